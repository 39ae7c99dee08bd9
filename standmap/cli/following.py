"""The command that follows a receiver: where you stand, how sure, which trees are near; a position can be taken."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from standmap.cli.options import JsonOption
from standmap.cli.terminal import emit_json, note, say, stoppable

if TYPE_CHECKING:
    from standmap.formats.nmea_fixes import NmeaFix
    from standmap.jobs.live import Near, Spot
    from standmap.jobs.receiver import Receiver
    from standmap.jobs.receiver_sources import Source
    from standmap.stand.snapshot import Stand
    from standmap.store.stand_file import StandFile
    from standmap.survey.settling import Settled


def add_to(app: typer.Typer) -> None:
    """Add the command of this file."""
    app.command()(follow)


def follow(
    file: Annotated[
        Path | None,
        typer.Argument(
            metavar="FILE", help="The stand, a GeoPackage; not needed to list the ports.", show_default=False
        ),
    ] = None,
    *,
    port: Annotated[str | None, typer.Option("--port", metavar="PORT", help="Serial port, or 'list'.")] = None,
    baud: Annotated[int | None, typer.Option("--baud", help="Its rate; the usual ones are tried without it.")] = None,
    tcp: Annotated[str | None, typer.Option("--tcp", metavar="HOST:PORT", help="A program on this machine.")] = None,
    other_machines: Annotated[
        bool, typer.Option("--other-machines", help="Let --tcp ask another machine than this one.")
    ] = False,
    replay: Annotated[Path | None, typer.Option("--replay", metavar="LOG", help="An NMEA log in place of one.")] = None,
    speed: Annotated[float, typer.Option("--speed", help="Of a replay; 0 is as fast as can be.")] = 1.0,
    seconds: Annotated[float | None, typer.Option("--seconds", help="End after so long.")] = None,
    take: Annotated[
        str | None, typer.Option("--take", metavar="NAME", help="Stand still: a position for this tree, known or new.")
    ] = None,
    within: Annotated[float, typer.Option("--within", metavar="METRES", help="Wanted of it, 95 %% radius.")] = 5.0,
    sure: Annotated[bool, typer.Option("--sure", help="A position far from the tree or the stand is meant.")] = False,
    move: Annotated[bool, typer.Option("--move", help="Of a pinned tree: move it too.")] = False,
    keep: Annotated[str | None, typer.Option("--keep", metavar="NAME", help="Keep the track as a walk.")] = None,
    as_json: JsonOption = False,
) -> None:
    """Follow a receiver. Watch your footing, not the screen."""
    from standmap.errors import UserError
    from standmap.jobs.receiver import Receiver

    if port == "list":
        _list_ports(as_json=as_json)
        return
    if file is None:
        raise UserError("no stand is named", "name one, such as wood.gpkg ('--port list' alone lists the ports)")
    source = _source(port, baud, tcp, replay, speed, other_machines=other_machines)
    _check(within, seconds)
    from standmap.jobs.opening import open_stand

    with open_stand(file, read_only=take is None and keep is None) as opened:
        stand = opened.stand()
        if take is not None:
            from standmap.jobs.names import checked_name

            checked_name(take, "name")
            if stand.named(take):
                stand.tree(take)  # one tree is meant, not several
        receiver = Receiver(source).start()
        try:
            watched = _Watched(stand, within if take is not None else None, quiet=as_json)
            _follow(receiver, watched, seconds)
        finally:
            receiver.stop()
        _answer(opened, receiver, watched, take, keep, sure=sure, move=move, as_json=as_json)


def _source(
    port: str | None, baud: int | None, tcp: str | None, replay: Path | None, speed: float, *, other_machines: bool
) -> Source:
    from standmap.errors import UserError
    from standmap.jobs.receiver_sources import ReplaySource, SerialSource, tcp_source

    if sum(way is not None for way in (port, tcp, replay)) != 1:
        raise UserError(
            "it is not clear what to follow", "give one of --port, --tcp and --replay ('--port list' lists the ports)"
        )
    if replay is not None:
        from standmap.formats.faults import within

        within(replay, 1 << 26, "replay a shorter log")
        if not 0 <= speed <= 1000:
            raise UserError(f"a speed of {speed:g} cannot be", "use a number from 0 to 1000")
        return ReplaySource(replay, speed)
    if tcp is not None:
        return tcp_source(tcp, other_machines=other_machines)
    if baud is not None and not 50 <= baud <= 4_000_000:
        raise UserError(f"{baud} is no rate of a serial port", "leave --baud out: the usual ones are tried")
    return SerialSource(str(port), baud)


def _check(within: float, seconds: float | None) -> None:
    from standmap.errors import UserError

    if not 0.5 <= within <= 100:
        raise UserError(f"a precision of {within:g} m cannot be wanted", "use 0.5 to 100 metres")
    if seconds is not None and not 0 < seconds <= 86_400:
        raise UserError(f"{seconds:g} seconds cannot be", "use a number up to 86400")


class _Watched:
    """What has been heard so far, and what it comes to."""

    def __init__(self, stand: Stand, wanted_m: float | None, *, quiet: bool) -> None:
        self.stand = stand
        self.wanted_m = wanted_m
        self.quiet = quiet
        self.fixes: list[NmeaFix] = []
        self.still: list[NmeaFix] = []
        self.settled: tuple[Settled, Spot] | None = None
        self.done = False
        self.state = ""
        self._said_of_place = ""

    def hear(self, fixes: list[NmeaFix]) -> None:
        """Take fixes in."""
        self.fixes += fixes
        if not fixes or self.wanted_m is None:
            return
        from standmap.jobs.live import frame_here, settled_from

        self.still += fixes
        frame = frame_here(self.stand, (self.still[0].lon, self.still[0].lat))
        self.settled = settled_from(self.still, frame, self.wanted_m)
        if self.settled is not None:
            found = self.settled[0]
            self.done = found.walked_off or found.wait_s == 0.0

    def say_where(self, fix: NmeaFix) -> None:
        """Say where the person stands, when the words for it have changed."""
        place, words = _where(self, fix)
        if words != self._said_of_place:
            self._said_of_place = words
            say(f"{place}{words}")

    def say_state(self, words: str) -> None:
        """Say beside the answer how things stand, when that has changed."""
        if words != self.state:
            self.state = words
            note(words)


def _follow(receiver: Receiver, watched: _Watched, seconds: float | None) -> None:
    import time

    from standmap.jobs.receiver import ReceiverState

    until = None if seconds is None else time.monotonic() + seconds
    with stoppable() as progress:
        while not progress.stop_wanted() and not watched.done:
            receiver.wait(0.2)
            heard = receiver.heard()
            watched.say_state(heard.words)
            fresh = receiver.take()
            watched.hear(fresh)
            if fresh and not watched.quiet:
                watched.say_where(fresh[-1])
            over = heard.state is ReceiverState.ENDED or not receiver.alive
            if (over and not receiver.take_waits) or (until is not None and time.monotonic() >= until):
                return


def _where(watched: _Watched, fix: NmeaFix) -> tuple[str, str]:
    """Return the position, and what there is to say of it."""
    from standmap.jobs.live import near, spot_of, sure_words
    from standmap.jobs.settling_words import settling_words

    spot = spot_of(fix)
    if watched.settled is not None:
        found, spot = watched.settled
        return f"{spot.at[1]:.6f} {spot.at[0]:.6f}", f": {settling_words(found)}"
    trees = "; ".join(_near_words(one) for one in near(watched.stand, spot, most=3))
    return f"{spot.at[1]:.6f} {spot.at[0]:.6f}", f", {sure_words(spot)}" + (f"; near: {trees}" if trees else "")


def _near_words(one: Near) -> str:
    return f"{one.tree.name} {one.away_m:.1f} m at {one.bearing_deg:.0f}° true, {one.words}"


def _answer(
    opened: StandFile,
    receiver: Receiver,
    watched: _Watched,
    take: str | None,
    keep: str | None,
    *,
    sure: bool,
    move: bool,
    as_json: bool,
) -> None:
    from standmap.errors import NothingToDo
    from standmap.jobs.clock import now
    from standmap.jobs.live import keep_track, near, spot_of, take_position

    if not watched.fixes:
        raise NothingToDo(f"there was no fix: {watched.state or receiver.heard().words}")
    last = spot_of(watched.fixes[-1])
    answer: dict[str, object] = {
        "fixes": len(watched.fixes),
        "lon": last.at[0],
        "lat": last.at[1],
        "radius_95_m": last.radius_95_m,
        "told_by_receiver": last.told,
        "near": [
            {
                "tree": one.tree.name,
                "id": one.tree.key,
                "away_m": one.away_m,
                "bearing_true_deg": one.bearing_deg,
                "share": one.share,
                "fits": one.fits,
            }
            for one in near(watched.stand, last)
        ],
        "taken": None,
        "walk": None,
    }
    said = []
    if take is not None:
        if watched.settled is None:
            raise NothingToDo("there were too few fixes to take a position: stand still for longer")
        found, spot = watched.settled
        known = bool(watched.stand.named(take))
        which = {"tree": take} if known else {"name": take}
        took = take_position(opened, spot, now(), now(), **which, sure=sure, move_pinned=move)
        answer["taken"] = {
            "tree": took.tree.name,
            "id": took.tree.key,
            "new": took.new,
            "lon": spot.at[0],
            "lat": spot.at[1],
            "radius_95_m": found.radius_95_m,
            "fixes": found.fix_count,
            "moved_m": took.moved_m,
        }
        about = "new" if took.new else f"moved {took.moved_m:.1f} m" if took.moved else "pinned, not moved"
        said.append(f"took a position of {took.tree.name} within {found.radius_95_m:.1f} m ({about})")
    if keep is not None:
        walk = keep_track(opened, watched.fixes, keep, now())
        answer["walk"] = {"name": walk.name, "id": walk.key, "fixes": len(walk.fixes)}
        said.append(f"kept the walk {walk.name} ({len(walk.fixes)} fixes)")
    if as_json:
        emit_json(answer)
        return
    for line in said or [f"{len(watched.fixes)} fixes"]:
        say(line)


def _list_ports(*, as_json: bool) -> None:
    from standmap.errors import NothingToDo
    from standmap.jobs.receiver_sources import serial_ports

    ports = serial_ports()
    if as_json:
        emit_json({"ports": [{"port": p.device, "title": p.title} for p in ports]})
    if not ports:
        raise NothingToDo("this machine has no serial port: plug the receiver in")
    if not as_json:
        for one in ports:
            say(one.title)
