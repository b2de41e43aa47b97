"""The command line: parses the arguments, then imports and runs the one command they name."""

from __future__ import annotations

import os
import sys
from argparse import ArgumentParser, HelpFormatter
from collections.abc import Iterable, Sequence
from contextlib import suppress
from dataclasses import dataclass
from errno import EDQUOT, ENOSPC
from importlib import import_module
from typing import Any, Final, NoReturn

from runbook import __version__
from runbook.commands.output import FINE, NOT_READ, print_error, show_progress
from runbook.files.errors import Unreadable
from runbook.journal.errors import JournalError

INTERRUPTED: Final = 130  # 128 and the signal's number, as shells count
PIPE_CLOSED: Final = 141
DEBUG: Final = "RUNBOOK_DEBUG"
_FAULTS_MAX: Final = 100  # lines; more than anybody corrects at once
_FULL: Final = "runbook: the output cannot be written: the disk is full; free some space and try again"


@dataclass(frozen=True, slots=True)
class Command:
    """A command: its name, what ``--help`` says of it, and its arguments; of those joined by a bar one can be given.

    Its code is ``run(args) -> int`` in the module of its name in ``runbook.commands``.
    """

    name: str
    help: str
    arguments: str


def _argument(
    name: str, text: str, metavar: str | tuple[str, str] | None = None, **more: Any
) -> tuple[str, dict[str, Any]]:
    """Return an argument as argparse takes it; an option without a ``metavar`` is a switch."""
    value = {"metavar": metavar} if metavar else {"action": "store_true"}
    return name, {"help": text, **value, **more}


_ARGUMENTS: Final = {
    "day": _argument("day", "the day's folder; default: this folder or the demo day", "DAY", nargs="?"),
    "new-day": _argument("day", "the folder to make", "DAY"),
    "kit-of": _argument("--from", "take over the kit, crew, place, rate and units of this day", "OTHER", dest="other"),
    "file": _argument("file", "the file that runbook handover wrote", "FILE"),
    "json": _argument("--json", "print JSON"),
    "as": _argument("--as", "who is at the keyboard", "NAME", dest="who"),
    "rehearse": _argument("--rehearse", "rehearse the changes, in a journal of its own"),
    "from": _argument("--from", "the setup before the change, or load-in", "ID", dest="start"),
    "to": _argument("--to", "the setup after it, or wrap", "ID", dest="goal"),
    "frames": _argument("--frames", "where the camera's pictures arrive; default: frames_folder of day.toml", "FOLDER"),
    "pictures": _argument(
        "--from", "count the pictures of a folder, by the time they were taken", "FOLDER", dest="source"
    ),
    "copies": _argument("--copies", "compare copies of the pictures", "FOLDER", nargs="+"),
    "offset": _argument("--offset", "how far a camera's clock is ahead, in seconds", "[CAMERA=]SECONDS"),
    "setup": _argument("--setup", "one setup; default: all of the day", "ID"),
    "first": _argument("--first", "the setup to shoot first", "ID"),
    "last": _argument("--last", "the setup to shoot last", "ID"),
    "apart": _argument("--apart", "setups of one look need not stay together"),
    "soonest": _argument("--soonest", "the order that ends soonest, even with longer changeovers"),
    "write": _argument("--write", "write this order into day.toml"),
    "as-shot": _argument("--as-shot", "write the day as it was shot into this new folder", "DIR"),
    "match": _argument(
        "--match", "compare new readings with a setup as shot; all: all heads", ("SETUP", "HEAD=READING"), nargs="+"
    ),
    "floor": _argument("--floor", "only the floor of this setup, seen from above", "SETUP"),
    "record": _argument("--record", "the day as it was, compared with the plan"),
    "page": _argument("-o", "the file to write: .html or .md; of --floor .svg", "FILE", dest="output", required=True),
    "taker": _argument("--to", "who takes the day over; default: the program asks", "NAME"),
    "archive": _argument("-o", "the file to write: .handover", "FILE", dest="output", required=True),
    "into": _argument("--into", "the folder to make for the day", "FOLDER"),
}
COMMANDS: Final = (
    Command("open", "open the screens: run the day step by step", "day as rehearse frames"),
    Command("check", "all problems of the day, most severe first", "day json"),
    Command("steps", "the changeovers: every step from one setup to the next", "day json from to"),
    Command("light", "meter readings, ratios, ambient, lens flare, what is in shot", "day json setup"),
    Command("stands", "what keeps each stand upright: lean, push, bags, counterweights", "day json setup"),
    Command("hours", "whether the day ends in time, what running over costs, and what would help", "day json"),
    Command("order", "the setup order with the shortest changeovers", "day json first last apart soonest write"),
    Command("log", "the journal: what happened, in order", "day json as-shot|match"),
    Command(
        "frames", "the camera's frames by setup; whether each is in two copies", "day json pictures copies offset as"
    ),
    Command("sheet", "a document to print: the day, its record, or a setup's floor", "day floor|record page"),
    Command("handover", "hand the day over: write all of it into one file", "day taker as archive"),
    Command("resume", "take a day over from a handover file", "file into as"),
    Command("new", "start a day's folder with a starter kit, or another day's kit", "new-day kit-of"),
)
DEFAULT: Final = "open"  # the command when none is named


def _formatter(prog: str) -> HelpFormatter:
    """Return help as wide as the terminal. Left to itself argparse imports shutil even when not asked."""
    try:
        width = os.get_terminal_size().columns
    except OSError:
        width = 80
    return HelpFormatter(prog, width=max(width - 2, 20))


def _parser(commands: Iterable[Command]) -> ArgumentParser:
    parser = ArgumentParser(
        prog="runbook",
        formatter_class=_formatter,
        description="Plan a studio photographer's shoot day, and work through it in the terminal.",
        epilog="exit status: 0 no problems; 1 problems found; 2 the input cannot be read",
    )
    parser.add_argument("--version", action="version", version=f"runbook {__version__}")
    names = parser.add_subparsers(dest="command", metavar="COMMAND", prog="runbook")
    for command in commands:
        added = names.add_parser(command.name, help=command.help, formatter_class=_formatter)
        for keys in command.arguments.split():
            group = added.add_mutually_exclusive_group() if "|" in keys else added
            for key in keys.split("|"):
                name, options = _ARGUMENTS[key]
                group.add_argument(name, **options)
    return parser


def run() -> NoReturn:
    """Run the installed command.

    Everything is printed and on disk when ``main`` returns, so the process ends without waiting for
    threads that still calculate.
    """
    status = main(sys.argv[1:])
    for stream in (sys.stdout, sys.stderr):
        with suppress(AttributeError, OSError, ValueError):  # closed, by us or whoever started us
            stream.flush()
    os._exit(status)


def main(argv: Sequence[str]) -> int:
    """Run the command these words ask for, and return its exit status. Never raises."""
    try:
        status = _run_command(argv)
        if sys.stdout is not None:
            sys.stdout.flush()
    except Unreadable as problem:
        more = len(problem.faults) - _FAULTS_MAX
        rest = [f"and {more:,} more faults; correct these first"] if more > 0 else []
        _print_errors(*map(str, problem.faults[:_FAULTS_MAX]), *rest)
        return NOT_READ
    except JournalError as problem:
        _print_errors(f"runbook: {problem}")
        return NOT_READ
    except KeyboardInterrupt:
        return INTERRUPTED
    except BrokenPipeError:
        try:  # keep the interpreter from trying once again as it ends
            os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        except (OSError, ValueError):
            sys.stdout = None
        return PIPE_CLOSED
    except Exception as problem:
        if os.environ.get(DEBUG):
            raise
        full = isinstance(problem, OSError) and problem.errno in (ENOSPC, EDQUOT)
        _print_errors(_FULL if full else _unexpected(problem))
        return NOT_READ
    return status


def _print_errors(*lines: str) -> None:
    """Print errors where that is still possible; the exit status tells them in any case."""
    with suppress(OSError, ValueError):  # full, or closed
        for line in lines:
            print_error(line)


def _run_command(argv: Sequence[str]) -> int:
    words = list(argv) or [DEFAULT]
    # one command's words are read without making a parser for each of the others
    parser = _parser([command for command in COMMANDS if command.name == words[0]] or COMMANDS)
    try:
        args = parser.parse_args(words)
    except SystemExit as leaving:  # argparse has said why, or answered --help
        return leaving.code if isinstance(leaving.code, int) else NOT_READ
    if args.command is None:
        parser.print_help()
        return FINE
    show_progress("working")
    try:
        status: int = import_module(f"runbook.commands.{args.command}").run(args)
    finally:
        show_progress("")
    return status


def _unexpected(problem: Exception) -> str:
    """Return one line for what should never happen, with the name of a file that has the rest of it."""
    import tempfile
    import traceback

    try:
        with tempfile.NamedTemporaryFile(
            "w", prefix="runbook-", suffix=".txt", delete=False, encoding="utf-8", errors="replace"
        ) as file:
            file.writelines(traceback.format_exception(problem))
        details = f"details in {file.name}"
    except OSError:
        details = f"for details set {DEBUG}=1"
    message = " ".join(str(problem).split())[:200]
    return f"runbook: unexpected {type(problem).__name__}: {message}; {details}"
