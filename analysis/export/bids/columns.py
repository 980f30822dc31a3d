"""The columns of an events table: what each means, in which unit, with which levels."""

from __future__ import annotations

from dataclasses import dataclass, field

YES_NO = {"true": "yes", "false": "no"}


@dataclass(frozen=True)
class Column:
    """A column: its name, what it holds, unit in the words of BIDS, levels."""

    name: str
    about: str
    unit: str = ""
    levels: dict[str, str] = field(default_factory=dict)

    @property
    def described(self) -> dict[str, object]:
        """The column as a sidecar describes it."""
        said: dict[str, object] = {"Description": self.about}
        if self.unit:
            said["Units"] = self.unit
        if self.levels:
            said["Levels"] = self.levels
        return said


ROLES = {
    "place": "a target at one of the pattern's places",
    "blind_spot": "catch trial: a target on the blind spot, seen only if the eye strayed",
    "blank": "catch trial: nothing shown, a press is false",
    "full_contrast": "catch trial: full contrast where a weaker target was seen",
}
VERDICTS = {
    "seen": "a press within the answer window",
    "not_seen": "no press",
    "anticipation": "a press too early to be an answer; the target is shown again",
    "late": "a press after the window; counted as not seen",
}

COLUMNS = (
    Column("onset", "Flip of the first frame with contrast, from the exam's opening", "s"),
    Column("duration", "Frames shown divided by the refresh rate", "s"),
    Column("trial_type", "What was presented", levels=ROLES),
    Column("response_time", "Deciding press after onset, as stamped; n/a without a press", "s"),
    Column("index", "Number of the presentation; it comes again after a hold cut it short"),
    Column("eye", "Eye under test", levels={"right": "right eye", "left": "left eye"}),
    Column("practice", "Whether it was practice", levels=YES_NO),
    Column("place_number", "Place in the pattern, from 0; n/a where no place was meant"),
    Column("x_deg", "Place: to the right as the participant sees it, from fixation", "degree"),
    Column("y_deg", "Place: up as the participant sees it, from fixation", "degree"),
    Column("phase_deg", "Phase of the grating", "degree"),
    Column("level_db", "Nominal contrast as 20*log10(1/C): contrast dB; n/a for a blank", "dB"),
    Column("contrast_nominal", "Michelson contrast asked for, 0 to 1"),
    Column("contrast_delivered", "Michelson contrast shown: nominal x frame hold x panel, 0 to 1"),
    Column("frames_wanted", "Frames asked for"),
    Column("frames_shown", "Frames shown"),
    Column("frames_late", "Frames that came late"),
    Column("spoiled", "Whether the display spoiled it; it is then shown again", levels=YES_NO),
    Column("flicker_hz", "Counterphase flicker as shown", "Hz"),
    Column("area_sr", "Solid angle of the target", "sr"),
    Column("swing_relative", "Swing of luminance at a point, of the display's greatest"),
    Column("swing_cd_m2", "Swing of luminance at a point; n/a where not measured", "cd/m^2"),
    Column("over_wcag", "Whether above the general-flash limit of WCAG 2.3.1", levels=YES_NO),
    Column("over_bt1702", "Whether above ITU-R BT.1702; n/a where not judged", levels=YES_NO),
    Column("verdict", "What the presses mean; n/a where it was cut short", levels=VERDICTS),
    Column("press_s", "Deciding press, from the exam's opening; n/a without one", "s"),
    Column("corrected_response_time", "Response time less known delay of display and button", "s"),
    Column("presses", "All presses up to the next onset: seconds after onset, spaces between"),
    Column("answer_spoiled", "Whether the answer was given to a spoiled target", levels=YES_NO),
)  # fmt: skip
