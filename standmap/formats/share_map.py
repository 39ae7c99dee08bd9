"""A stand as one HTML map to hand on: drawn by folium, everything inside the file, nothing asked of any network.

folium's own page fetches its scripts, styles and tiles from the web. Here Leaflet is laid into the file, what is not
needed is left out, the ground is drawn as lines, and a content-security policy allows nothing from outside. Texts
travel as JSON and are shown as text nodes, never as markup.
"""

from __future__ import annotations

import html
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Any

from standmap.assets import resource
from standmap.formats.phone_page import json_in_page, sha256_of
from standmap.stand.tree import LonLat

MOST_LABELS = 150
"""With more trees than this, names are shown when a tree is pointed at, not all at once."""

_STYLES: Mapping[str, dict[str, Any]] = {
    "permitted": {"color": "#56645c", "weight": 1.5, "dashArray": "12 4 2 4", "fill": False},
    "no-go": {"color": "#a1552f", "weight": 2, "fillColor": "#a1552f", "fillOpacity": 0.2},
    "path": {"color": "#8f8368", "weight": 3, "dashArray": "9 5"},
    "stream": {"color": "#5d93ab", "weight": 4},
    "fence": {"color": "#a1552f", "weight": 2, "dashArray": "2 5"},
    "place": {"color": "#15201a", "weight": 2, "fillColor": "#fbfaf6", "fill": True, "fillOpacity": 1, "radius": 6},
    "hazard": {"color": "#8a1c00", "weight": 3, "fillColor": "#fbfaf6", "fill": True, "fillOpacity": 1, "radius": 7},
    "tree": {"color": "#22302a", "weight": 1.5, "fillColor": "#fbfaf6", "fill": True, "fillOpacity": 1, "radius": 7},
    "giving": {"color": "#22302a", "weight": 1.5, "fillColor": "#56b4e9", "fill": True, "fillOpacity": 1, "radius": 8},
}
"""How each kind is drawn; the fill of a giving tree is of the palette of Okabe and Ito (2008)."""

KINDS = tuple(_STYLES)


@dataclass(frozen=True, slots=True)
class SharedThing:
    """One thing on the map.

    Attributes
    ----------
    kind
        One of `KINDS`.
    shape, coordinates
        Point, LineString, MultiLineString or Polygon, and its positions as GeoJSON has them.
    told
        Lines shown when it is pressed.
    label
        Written beside it, or "".
    """

    kind: str
    shape: str
    coordinates: Any
    told: tuple[str, ...] = ()
    label: str = ""


def share_map(title: str, about: Sequence[str], things: Sequence[SharedThing], language: str = "en") -> str:
    """Return the map as one HTML text.

    Parameters
    ----------
    about
        Lines below the title.
    things
        At least one; drawn in this order, so that what comes last lies on top.
    """
    import folium

    drawn = folium.Map(tiles=None, max_zoom=24, zoom_snap=0.25, attribution_control=False, control_scale=True)
    drawn.default_js, drawn.default_css = [], []  # what it would fetch
    folium.GeoJson(
        {"type": "FeatureCollection", "features": [_feature(n, thing) for n, thing in enumerate(things)]},
        marker=folium.CircleMarker(),
        on_each_feature=folium.JsCode(_part("told.js")),
        smooth_factor=0,
    ).add_to(drawn)
    drawn.fit_bounds(_bounds(things), padding=(30, 30))
    figure = folium.Figure()
    figure.add_child(drawn)
    page = figure.render()
    # What people wrote is laid in afterwards: folium's templates would take braces in a name for their own.
    name = drawn.get_name()
    apart = f"{_part('apart.js')}{name}.on('zoomend', () => apart({name}));\napart({name});\n"
    lines = "".join(f'<p dir="auto">{html.escape(line)}</p>' for line in about)
    head = (
        f"<title>{html.escape(title)}</title>\n<style>{_leaflet('leaflet.css')}</style>\n"
        f"<style>{_part('page.css')}</style>\n<script>{_leaflet('leaflet.js')}</script>\n"
        f'<script type="application/json" id="texts">{_texts(things)}</script>\n'
    )
    for mark, put in (
        ("<html>", f'<html lang="{html.escape(language)}">'),
        ("</head>", f"{head}</head>"),
        ("</body>", f'<div class="about"><h1 dir="auto">{html.escape(title)}</h1>{lines}</div>\n</body>'),
    ):
        page = page.replace(mark, put, 1)
    before, end, after = page.rpartition("</html>")
    return _sealed(f"{before}<script>{apart}</script>\n{end}{after}")


def _texts(things: Sequence[SharedThing]) -> str:
    labels = sum(thing.kind in ("tree", "giving") for thing in things)
    texts = [{"told": thing.told, "label": thing.label} for thing in things]
    return json_in_page({"always": labels <= MOST_LABELS, "things": texts})


def _feature(number: int, thing: SharedThing) -> dict[str, Any]:
    return {
        "type": "Feature",
        "geometry": {"type": thing.shape, "coordinates": thing.coordinates},
        "properties": {"number": number, "style": _STYLES[thing.kind]},
    }


def _bounds(things: Sequence[SharedThing]) -> list[list[float]]:
    positions = [at for thing in things for at in _positions(thing.coordinates)]
    lons, lats = [at[0] for at in positions], [at[1] for at in positions]
    return [[min(lats), min(lons)], [max(lats), max(lons)]]


def _positions(coordinates: Any) -> list[LonLat]:
    if isinstance(coordinates[0], int | float):
        return [(coordinates[0], coordinates[1])]
    return [at for part in coordinates for at in _positions(part)]


@lru_cache(maxsize=2)
def _leaflet(name: str) -> str:
    """Return a file of Leaflet: with its licence, and without what it would fetch."""
    from xstatic.pkg import leaflet  # type: ignore[import-untyped]

    text = (Path(leaflet.BASE_DIR) / name).read_text(encoding="utf-8").replace("\r\n", "\n")
    text = re.sub(r"^//# sourceMappingURL=.*$", "", text, flags=re.MULTILINE)
    if name.endswith(".css"):
        # Its pictures are those of markers and of a layer switch, which this map has not.
        text = re.sub(r"url\([^)]*\)", "none", text)
    return f"/*\n{_part('leaflet-licence.txt')}*/\n{text}"


def _part(name: str) -> str:
    return resource("share", name).read_text(encoding="utf-8")


def _sealed(page: str) -> str:
    """Return a page with a policy that allows the scripts and styles that are in it, and nothing else."""
    sources = {}
    for tag in ("script", "style"):
        inline = re.findall(rf"<{tag}>(.*?)</{tag}>", page, flags=re.DOTALL)
        if len(inline) != len(re.findall(rf"<{tag}(?! type=.application/json)[\s>]", page)):
            raise ValueError(f"the map holds a {tag} that is not its own")
        sources[tag] = " ".join(dict.fromkeys(f"'sha256-{sha256_of(text)}'" for text in inline))
    policy = (
        f"default-src 'none'; script-src {sources['script']}; style-src {sources['style']}; "
        "base-uri 'none'; form-action 'none'"
    )
    meta = f'<meta http-equiv="Content-Security-Policy" content="{html.escape(policy)}">'
    return page.replace("<head>", f'<head>\n<meta charset="utf-8">\n{meta}', 1)
