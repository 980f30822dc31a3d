"""What the window says to the participant, in their language; the texts are plain files.

The files are the ones the station reads aloud from, `station/say/xx.toml`, table `[window]`.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from protocols.answers import Verdict
from protocols.errors import InputError
from protocols.field import Eye
from stimulus.station.say_texts import Text, WindowText, bundled_texts, read_say_file


@dataclass(frozen=True)
class Words:
    """A language's words for the window; `right_to_left` says how its script runs."""

    language: str
    window: WindowText
    right_to_left: bool = False

    def before_session(self) -> list[str]:
        """The photosensitivity caution, once before the first eye."""
        return list(self.window.before_session)

    def before_eye(self, eye: Eye, practice: bool) -> list[str]:
        """Instructions before an eye."""
        said = self.window
        heading = said.right_eye if eye == "right" else said.left_eye
        first = said.practice_comes if practice else said.no_practice
        return [heading, self._cover(eye), *said.task, first, said.press_to_begin]

    def again(self, eye: Eye) -> list[str]:
        """The task once more, in the middle of an eye."""
        said = self.window
        return [said.once_more, self._cover(eye), *said.task, said.press_to_go_on]

    def while_resting(self, eye: Eye) -> list[str]:
        """Between the eyes; `eye` comes next."""
        said = self.window
        return list(said.rest_before_right if eye == "right" else said.rest_before_left)

    def while_held(self, reason: str) -> list[str]:
        """The exam pauses; the reason is for the operator, in English."""
        return [*self.window.held, f"For the operator: {reason.rstrip('.')}."]

    def while_practice_waits(self) -> list[str]:
        """The practice was not passed: the operator explains."""
        return list(self.window.practice_waits)

    def feedback(self, verdict: Verdict) -> str:
        """One word or two on a practice answer."""
        said = self.window
        words: dict[Verdict, str] = {
            "seen": said.seen,
            "anticipation": said.too_early,
            "not_seen": said.missed,
            "late": said.too_late,
        }
        return words[verdict]

    def finished(self) -> list[str]:
        """The end."""
        return list(self.window.finished)

    def _cover(self, eye: Eye) -> str:
        return self.window.cover_left if eye == "right" else self.window.cover_right


def words_for(language: str = "en", folder: Path = Path()) -> Words:
    """The words of a bundled language, or of a language's file such as `say/ar.toml`.

    Raises InputError for a language there is no file of, or a file without words for the window.

    >>> words_for("es").feedback("seen")
    'Visto'
    """
    path = folder / language
    is_file = path.suffix == ".toml"
    text = read_say_file(path, "--language") if is_file else bundled_texts().get(language)
    if text is None:
        allowed = f"{', '.join(bundled_texts())}, or a language's file such as say/ar.toml"
        raise InputError("--language", language, allowed, "Choose one, or write its file.")
    if text.window is None:
        todo = "Add the words, as in the bundled files."
        raise InputError(f"{path.name}, window", "nothing", "a table [window] with its words", todo)
    return Words(text.language, text.window, _is_rtl(text))


def _is_rtl(text: Text) -> bool:
    return text.direction == "rtl"


def stopped(reason: str, folder: object) -> str:
    """For the operator, at the end of an exam that was not finished."""
    return f"stopped: {reason}. Go on with: ripplefield run --resume {folder}"
