"""The plots of the coming night and of past seasons, as the sheet about tonight shows them."""

from __future__ import annotations

from typing import TYPE_CHECKING

from standmap.desktop.desk import Desk
from standmap.desktop.plot_view import TEXT_PX, PlotView
from standmap.desktop.words import said, tr
from standmap.formats.plot import PlotLook
from standmap.formats.run_plot import night_plot, past_plot, rows_px
from standmap.jobs.run_files import night_drawn
from standmap.jobs.tonight import TonightAnswer
from standmap.sap.calibration import Calibration
from standmap.units_shown import UnitsShown

if TYPE_CHECKING:
    from matplotlib.figure import Figure

MOST_DRAWN = 24
"""More holes are no picture of a night any more; all stand in the table."""


class NightPlot(PlotView):
    """What each hole is expected to give beside what a vessel holds."""

    def __init__(self, desk: Desk) -> None:
        super().__init__(desk, 0, tr("what each hole is expected to give"))

    def show_night(self, answer: TonightAnswer | None, units: UnitsShown) -> None:
        """Show a night in the person's units, or nothing."""
        if answer is None:
            self.show_plot(None)
            return
        unit, vessel = units.volume_unit, units.volume(answer.options.vessel_ml)
        unit_ml = units.read_volume("1")[0]
        night = night_drawn(answer, unit, unit_ml, vessel_told=vessel, most=MOST_DRAWN, say=said)

        def draw(look: PlotLook, width_px: float, height_px: float) -> Figure:
            return night_plot(night, look, width_px, height_px, said)

        told = tr(
            "for each of {n} holes the median and a line for eight times of ten, beside a vessel of {vessel}; "
            "at {over} it runs over too likely",
            n=len(night.holes),
            vessel=vessel,
            over=sum(hole.likely_over for hole in night.holes),
        )
        self.show_plot(draw, told, rows_px(len(night.holes), TEXT_PX))


class PastPlot(PlotView):
    """Which part of each season's collections lay within what had been told."""

    def __init__(self, desk: Desk) -> None:
        super().__init__(desk, 0, tr("how past seasons came"))

    def show_past(self, past: Calibration | None) -> None:
        """Show past seasons, or nothing."""
        if past is None:
            self.show_plot(None)
            return

        def draw(look: PlotLook, width_px: float, height_px: float) -> Figure:
            return past_plot(past, look, width_px, height_px, said)

        told = "; ".join(
            tr("{season}: {half} and {nine}", season=s.season, half=f"{s.inside_50:.0%}", nine=f"{s.inside_90:.0%}")
            for s in past.seasons
        )
        self.show_plot(draw, told, rows_px(len(past.seasons), TEXT_PX))
