"""What an operator's command means to the exam, and which commands mean nothing just now."""

from __future__ import annotations

from dataclasses import dataclass

from protocols.messages import (
    Hold,
    Message,
    RepeatPractice,
    Resume,
    SkipEye,
    Stop,
    WaivePractice,
)
from stimulus.buttons.operator_keys import Command

STOPPED = "stopped by the operator"
EXPLAINED = "the task is explained again"


@dataclass(frozen=True)
class Moment:
    """Where the exam is, as far as commands go: on hold, with a practice to waive or repeat."""

    holding: bool = False
    may_waive: bool = False
    may_repeat: bool = False

    def heeds(self, command: Command) -> bool:
        """Whether a command means something now; others are let fall."""
        return {
            "hold": not self.holding,
            "explain": not self.holding,
            "resume": self.holding,
            "waive_practice": self.may_waive,
            "repeat_practice": self.may_repeat,
        }.get(command, True)


def while_shown(practice: bool) -> Moment:
    """While something is shown: a practice can be waived, or begun anew."""
    return Moment(may_waive=practice, may_repeat=practice)


def message_of(command: Command, initials: str) -> Message:
    """The command as the exam's machine takes it; `initials` are whose decision a waiver is."""
    messages: dict[Command, Message] = {
        "stop": Stop(STOPPED),
        "hold": Hold("held by the operator"),
        "resume": Resume(),
        "skip_eye": SkipEye(),
        "explain": Hold(EXPLAINED),
        "repeat_practice": RepeatPractice(),
        "waive_practice": WaivePractice(initials),
    }
    return messages[command]
