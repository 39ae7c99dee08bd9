"""What `bring` says of the files that it brought in, as text and as JSON."""

from __future__ import annotations

from typing import TYPE_CHECKING

from standmap.cli.terminal import note, say, table

if TYPE_CHECKING:
    from standmap.jobs.bring_report import BringReport, BroughtStop

SHOWN = 10
"""Skipped features named on a terminal; all are in the JSON."""


def report_json(report: BringReport) -> dict[str, object]:
    """Return what files brought, in its JSON shape."""
    return {
        "sources": [
            {
                "file": s.file,
                "format": s.format,
                "read": s.read,
                "added": s.added,
                "updated": s.updated,
                "skipped": [{"where": k.where, "why": k.why} for k in s.skipped],
                "stops": [{"tree": p.tree, **_stop_json(p), "proposed": p.proposed} for p in s.stops],
                "waiting": [
                    {
                        "where": w.where,
                        **_stop_json(w.stop),
                        "candidates": [
                            {"tree": c.tree, "id": c.key, "away_m": round(c.away_m, 2), "chance": round(c.chance, 3)}
                            for c in w.candidates
                        ],
                    }
                    for w in s.waiting
                ],
                "ignored": s.ignored,
                "walks": [
                    {"name": w.name, "off_east_m": round(w.off_east_m, 3), "off_north_m": round(w.off_north_m, 3)}
                    for w in s.walks
                ],
            }
            for s in report.sources
        ]
    }


def _stop_json(stop: BroughtStop) -> dict[str, object]:
    return {
        "lon": stop.lon,
        "lat": stop.lat,
        "from": stop.from_at.isoformat(),
        "to": stop.to_at.isoformat(),
        "fixes": stop.fixes,
        "sigma_m": round(stop.sigma_m, 3),
    }


def show_report(report: BringReport) -> None:
    """Say what files brought."""
    for source in report.sources:
        if source.known:
            continue
        counts = [f"read {source.read}", f"added {source.added}", f"updated {source.updated}"]
        if source.skipped:
            counts.append(f"skipped {len(source.skipped)}")
        say(f"{source.file} ({source.format}): {', '.join(counts)}")
        for skipped in source.skipped[:SHOWN]:
            note(f"  skipped {skipped.where}: {skipped.why}")
        if len(source.skipped) > SHOWN:
            note(f"  ... and {len(source.skipped) - SHOWN} more; --json names them all")
        if source.ignored:
            say(f"  {_stops(source.ignored)} left out by choice")
        if source.stops:
            proposed = sum(p.proposed for p in source.stops)
            say(f"  {_stops(len(source.stops))}{_proposed_words(proposed, len(source.stops))}:")
            table(
                [("  tree", "left"), ("stood", "right"), ("fixes", "right"), ("sigma", "right"), ("", "left")],
                (
                    (
                        f"  {p.tree}",
                        f"{(p.to_at - p.from_at).total_seconds():.0f} s",
                        str(p.fixes),
                        f"{p.sigma_m:.1f} m",
                        "proposed" if p.proposed and proposed < len(source.stops) else "",
                    )
                    for p in source.stops
                ),
            )


def _stops(count: int) -> str:
    return "1 stop" if count == 1 else f"{count} stops"


def _proposed_words(proposed: int, count: int) -> str:
    """Return how many trees at these stops a person has yet to confirm."""
    if not proposed:
        return ""
    if proposed == count:
        which = "a proposed tree" if count == 1 else "each a proposed tree"
        return f", {which} until you confirm it ('standmap confirm')"
    return f", {proposed} of them at proposed trees until you confirm them ('standmap confirm')"
