// Names that would cover another are left out until one comes nearer; every tree still tells its own when pressed.
function apart(map) {
  const kept = [];
  for (const name of map.getPane("tooltipPane").querySelectorAll(".name")) {
    const box = name.getBoundingClientRect();
    const free = kept.every((other) => box.right < other.left || other.right < box.left
      || box.bottom < other.top || other.bottom < box.top);
    name.style.visibility = free ? "" : "hidden";
    if (free) kept.push(box);
  }
}
