"""The actions on a setup and the day: begin, go to, mark as shot, skip, pause, do ahead."""

from __future__ import annotations

from typing import ClassVar, Final

from textual.binding import BindingType

from runbook.changeover.checklist import Check
from runbook.changeover.steps import Step
from runbook.day.parse_input import parse_break, parse_time, parse_words
from runbook.day.state import UNPLANNED
from runbook.screens.base import DayScreen, numbered
from runbook.screens.help import key

STATE_WORD: Final = {"to do": "", "changing": "changing", "ready": "READY", "shot": "shot", "skipped": "skipped"}
_WHY: Final = "Why? The reason stays in the journal."


class SetupActions(DayScreen):
    """The keys that move the day on."""

    KEYS_TITLE = "The setup"
    BINDINGS: ClassVar[list[BindingType]] = [
        key("n", "next", "next", "begin the next setup"),
        key("g", "go", "go to", "go to any, forward or back"),
        key("c", "shot", "shot", "mark it as shot"),
        key("k", "skip_setup", "skip setup", "skip a setup, and why"),
        key("a", "ahead", "ahead", "do the next setup's ahead"),
        key("b", "pause", "break", "begin or end a break"),
        key("v", "event", "event", "late talent, battery swap"),
        key("i", "who", "who", "who is at the keyboard"),
    ]

    def title_of(self, setup_id: str | None) -> str:
        """A setup by name; None is the wrap."""
        if setup_id is None:
            return "the wrap"
        setup = self.session.plan.setups.get(setup_id)
        return (setup.title if setup else "") or setup_id

    def action_next(self) -> None:
        """Begin the next setup; asked first when this one is not finished."""
        session = self.session
        state, setup_id = session.state, session.view.next_setup
        if state.wrapping:
            if setup_id is None:
                self.day.show_message("the wrap has begun; g goes back to a setup, q leaves the day")
            else:
                self._ask_to_go_back(setup_id)
            return
        over = state.shot | state.setups_skipped.keys()
        if session.view.setup is None or session.view.setup.id in over:
            self._begin(setup_id)
        else:
            self._ask_to_go(setup_id)

    def _ask_to_go(self, setup_id: str | None) -> None:
        name = self.title_of(setup_id)
        choices = [
            ("s", "stay", "stay"),
            ("c", f"mark as shot, then {name}", "shot"),
            ("l", f"leave it open, then {name}", "go"),
        ]

        def answered(answer: str) -> None:
            if answer == "shot" and not self.day.do(self.session.mark_shot):
                return
            if answer != "stay":
                self._begin(setup_id)

        self.choose(self._open_work(), choices, answered)

    def _open_work(self) -> str:
        """Return what is open of the current setup, to begin a question with."""
        session = self.session
        left, at_work = len(session.view.pending.left), session.state.at_work
        state = f"{left} step{'s are' if left > 1 else ' is'} left"
        if not left and session.view.setup is not None:
            taken = session.state.frames.get(session.view.setup.id, 0)
            state = f"{taken} of {session.view.setup.frames} frames taken, not marked as shot"
        return f"{self.title_of(at_work)}: {state}."

    def _ask_to_go_back(self, setup_id: str) -> None:
        choices = [("s", "stay with the wrap", "stay"), ("g", f"go back to {self.title_of(setup_id)}", "go")]
        self.choose(
            "The wrap has begun, and not every setup is shot.",
            choices,
            lambda answer: self._begin(setup_id) if answer == "go" else None,
        )

    def _begin(self, setup_id: str | None) -> None:
        self.day.do(lambda: self.session.begin(setup_id), f"begun: {self.title_of(setup_id)}")

    def action_go(self) -> None:
        """Go to any setup: back to an earlier one, ahead to a later one, or to the wrap."""
        setups = self.session.view.setups
        choices = numbered((f"{line.title}  {STATE_WORD[line.state]}".rstrip(), line.id) for line in setups)
        choices.append(("w", "the wrap: strike everything", ""))
        at = next((n for n, line in enumerate(setups) if line.now), 0)
        self.choose("Go to which setup?", choices, lambda setup_id: self._go_to(setup_id or None), at)

    def _go_to(self, setup_id: str | None) -> None:
        """Begin a setup; asked first when the one at work may be shot and is not marked so."""
        session, at_work = self.session, self.session.state.at_work
        open_still = (
            session.view.setup is not None and at_work not in session.state.shot | session.state.setups_skipped.keys()
        )
        worked_on = session.view.ready or session.state.frames.get(at_work or "", 0) > 0
        if open_still and worked_on and setup_id != at_work:
            self._ask_to_go(setup_id)
        else:
            self._begin(setup_id)

    def action_shot(self) -> None:
        """Mark the setup as shot; asked first when steps are left."""
        session = self.session
        left = len(session.view.pending.left)
        if not left or session.view.setup is None or session.view.setup.id in session.state.shot:
            self._mark_shot("")
            return
        choices = [("s", "stay", "stay"), ("c", "mark it as shot", "shot")]
        steps = f" with {left} step{'s' if left > 1 else ''} left"
        self.choose(self._open_work(), choices, lambda answer: self._mark_shot(steps) if answer == "shot" else None)

    def _mark_shot(self, steps: str) -> None:
        self.day.do(self.session.mark_shot, f"marked as shot{steps}; n begins the next, u undoes it")

    def action_skip_setup(self) -> None:
        """Skip a setup, with a reason."""
        choices = [  # numbered as everywhere else, whichever of them are over
            (str(n) if n < 10 else "", line.title, line.id)
            for n, line in enumerate(self.session.view.setups, 1)
            if line.state in ("to do", "changing", "ready")
        ]
        if not choices:
            self.day.show_message("no setup is left to skip")
            return

        def chosen(setup_id: str) -> None:
            self.ask(
                f"Skip: {self.title_of(setup_id)}",
                _WHY,
                parse_words,
                lambda reason: self.day.do(lambda: self.session.skip_setup(setup_id, reason)),
            )

        self.choose("Skip which setup?", choices, chosen)

    def action_pause(self) -> None:
        """Begin a break, or end it."""
        session = self.session
        if session.state.on_break is not None:
            self.day.do(session.resume, "the break is over")
            return
        breaks = session.plan.day.breaks
        choices = numbered((f"{rest.name or rest.id}, {rest.minutes:g} min", rest.id) for rest in breaks)
        choices.append((str(len(choices) + 1), "a break that is not in the plan", UNPLANNED))
        begun = "on a break; t shows its checks"
        self.choose(
            "Which break begins?",
            choices,
            lambda break_id: (
                self._ask_unplanned_break()
                if break_id == UNPLANNED
                else self.day.do(lambda: session.pause(break_id), begun)
            ),
        )

    def _ask_unplanned_break(self) -> None:
        self.ask(
            "An unplanned break: how many minutes, and why?",
            "like: 20 fire alarm",
            parse_break,
            lambda entered: self.day.do(lambda: self.session.begin_unplanned_break(*entered), "on a break; b ends it"),
        )

    def action_event(self) -> None:
        """Enter an unplanned event: a late talent, a changed battery, a break."""
        choices = [
            ("1", "a talent is late", self._ask_late_talent),
            ("2", "a battery was changed", self._ask_changed_battery),
        ]
        if self.session.state.on_break is None:
            choices.append(("3", "an unplanned break begins", self._ask_unplanned_break))
        self.choose("What happened?", choices, lambda ask: ask())

    def _ask_late_talent(self) -> None:
        talents = dict.fromkeys(look.sitter for look in self.session.plan.day.looks)
        if not talents:
            self.day.show_message("the plan names no looks; add [[look]] to day.toml")
            return

        def chosen(talent: str) -> None:
            self.ask(
                f"When is {talent} expected?",
                "a time of day, like 13:40",
                parse_time,
                lambda due: self.day.do(
                    lambda: self.session.talent_is_late(talent, due), f"{talent} expected at {due}"
                ),
            )

        self.choose("Which talent is late?", numbered((talent, talent) for talent in talents), chosen)

    def _ask_changed_battery(self) -> None:
        heads = [head.id for head in self.session.plan.kit.heads if not head.mains]
        if not heads:
            self.day.show_message("no head of the kit runs on a battery")
            return
        self.choose(
            "Which head has a full battery now?",
            numbered((head, head) for head in heads),
            lambda head: self.day.do(lambda: self.session.battery_changed(head), f"battery changed: {head}"),
        )

    def action_ahead(self) -> None:
        """Do a step of the next setup while this one still runs."""
        session = self.session
        ahead = session.view.ahead
        if not ahead.todo:
            self.day.show_message("nothing of the next setup can be done ahead now")
            return
        listed: list[tuple[str, Check | Step]] = []
        for step in ahead.todo:
            for hold in ahead.open_holds(step):
                check = (f"CHECK {hold.check.text}", hold.check)
                if check not in listed:  # a check that holds several steps is asked before the first
                    listed.append(check)
            listed.append((step.text, step))
        self.choose(f"Ahead, for {self.title_of(session.view.next_setup)}:", numbered(listed), self._done_ahead)

    def _done_ahead(self, of: Check | Step) -> None:
        session = self.session
        if isinstance(of, Check):
            done = self.day.do(lambda: session.tick_check(of, ahead=True), f"checked: {of.text}")
        else:
            done = self.day.do(lambda: session.tick_ahead(of), f"done ahead: {of.text}")
        if done and session.view.ahead.todo:
            self.action_ahead()

    def action_who(self) -> None:
        """Who is at the keyboard: one of the crew, or who took the day over."""
        names = {member.id: member.name or member.id for member in self.session.plan.day.crew}
        taken_by = self.session.state.taken_by
        if taken_by is not None:
            names.setdefault(taken_by, taken_by)
        choices = numbered((name, who) for who, name in names.items())
        if not choices:
            self.day.show_message("the plan names no crew; add [[crew]] to day.toml")
            return

        def chosen(who: str) -> None:
            self.session.who = who
            self.day.show_message(f"at the keyboard: {who}")

        self.choose("Who is at the keyboard?", choices, chosen)
