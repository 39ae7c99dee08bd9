// What is told of a thing on a shared map, as text nodes: a name may hold anything.
(feature, layer) => {
  window.standTexts = window.standTexts || JSON.parse(document.getElementById("texts").textContent);
  const texts = window.standTexts;
  const { told, label } = texts.things[feature.properties.number];
  const line = (text) => {
    const made = document.createElement("div");
    made.dir = "auto";
    made.textContent = text;
    return made;
  };
  if (told.length) {
    const box = document.createElement("div");
    box.append(...told.map(line));
    layer.bindPopup(box, {maxHeight: 300});
  }
  if (label) {
    layer.bindTooltip(line(label), {permanent: texts.always, direction: "right", offset: [8, 0], className: "name"});
  }
}
