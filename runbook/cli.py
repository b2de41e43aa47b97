"""The command line: parses the arguments, then imports and runs the one command they name."""

from __future__ import annotations

import os
import sys
from argparse import ArgumentParser, HelpFormatter
from collections.abc import Callable, Iterable, Sequence
from contextlib import suppress
from errno import EDQUOT, ENOSPC
from importlib import import_module
from typing import Final, NamedTuple, NoReturn

from runbook import __version__
from runbook.commands.output import FINE, NOT_READ, print_error
from runbook.files.errors import Unreadable
from runbook.journal.errors import JournalError

INTERRUPTED: Final = 130  # 128 and the signal's number, as shells count
PIPE_CLOSED: Final = 141
DEBUG: Final = "RUNBOOK_DEBUG"
_FAULTS_MAX: Final = 100  # lines; more than anybody corrects at once
_FULL: Final = "runbook: the output cannot be written: the disk is full; free some space and try again"


class Command(NamedTuple):
    """A command: its word, what ``--help`` says of it, and what adds its arguments.

    Its code is ``run(args) -> int`` in the module of its name in ``runbook.commands``.
    """

    name: str
    says: str
    arguments: Callable[[ArgumentParser], None]


def _day(parser: ArgumentParser) -> None:
    parser.add_argument("day", nargs="?", metavar="DAY", help="the day's folder; default: this folder or the demo day")


def _day_json(parser: ArgumentParser) -> None:
    _day(parser)
    parser.add_argument("--json", action="store_true", help="print JSON")


def _new(parser: ArgumentParser) -> None:
    parser.add_argument("day", metavar="DAY", help="the folder to make")


def _steps(parser: ArgumentParser) -> None:
    _day_json(parser)
    parser.add_argument("--from", dest="start", metavar="ID", help="a setup, or load-in")
    parser.add_argument("--to", dest="goal", metavar="ID", help="a setup, or wrap")


def _setup(parser: ArgumentParser) -> None:
    _day_json(parser)
    parser.add_argument("--setup", metavar="ID", help="one setup; default: all of the day")


def _open(parser: ArgumentParser) -> None:
    _day(parser)
    parser.add_argument("--as", dest="who", metavar="ID", help="who is at the keyboard")
    parser.add_argument("--rehearse", action="store_true", help="rehearse the changes, in a journal of its own")


def _order(parser: ArgumentParser) -> None:
    _day_json(parser)
    parser.add_argument("--first", metavar="ID", help="the setup that comes first")
    parser.add_argument("--last", metavar="ID", help="the setup that comes last")
    parser.add_argument("--apart", action="store_true", help="looks need not stay together")
    parser.add_argument("--soonest", action="store_true", help="the earliest finish instead of the least changing")
    parser.add_argument("--write", action="store_true", help="write this order into day.toml")


def _sheet(parser: ArgumentParser) -> None:
    _day(parser)
    what = parser.add_mutually_exclusive_group()
    what.add_argument("--floor", metavar="SETUP", help="only the floor of this setup, drawn from above: .svg")
    what.add_argument("--record", action="store_true", help="the day as it really was, against the plan")
    parser.add_argument("-o", dest="output", required=True, metavar="FILE", help="the file to write: .html, .md")


def _log(parser: ArgumentParser) -> None:
    _day_json(parser)
    what = parser.add_mutually_exclusive_group()
    what.add_argument("--as-shot", dest="as_shot", metavar="DIR", help="a new day's folder, as it was shot")
    what.add_argument(
        "--match",
        nargs="+",
        metavar="WORD",
        help="SETUP HEAD=READING ...: how far off as shot it is now; all=READING is the whole set",
    )


def _handover(parser: ArgumentParser) -> None:
    _day(parser)
    parser.add_argument("--to", metavar="NAME", help="who takes the day over; asked for when not given")
    parser.add_argument("--as", dest="who", metavar="NAME", help="who hands it over")
    parser.add_argument("-o", dest="output", required=True, metavar="FILE", help="the file to write: .handover")


def _resume(parser: ArgumentParser) -> None:
    parser.add_argument("file", metavar="FILE", help="what runbook handover wrote")
    parser.add_argument("--into", metavar="FOLDER", help="the folder to make for the day")
    parser.add_argument("--as", dest="who", metavar="NAME", help="who takes over; asked for when not given")


COMMANDS: Final = (
    Command("open", "open the screens: run the day step by step", _open),
    Command("check", "all problems of the day, most severe first", _day_json),
    Command("steps", "the changeovers: every step from one setup to the next", _steps),
    Command("light", "readings, ratios, ambient, flare, frame", _setup),
    Command("stands", "lean, push, bags, counterweights", _setup),
    Command("hours", "the day's clock: estimated finish, and what overtime costs", _day_json),
    Command("order", "the order of the setups with the least changing", _order),
    Command("log", "the journal: what happened, in order", _log),
    Command("sheet", "a document to print: the day, its record, or a setup's floor", _sheet),
    Command("handover", "hand the day over: all of it in one file", _handover),
    Command("resume", "take a day over from a handover file", _resume),
    Command("new", "start a day's folder", _new),
)
WITHOUT_WORDS: Final = "open"  # the command that no words mean


def _formatter(prog: str) -> HelpFormatter:
    """Help as wide as the terminal. Left to itself argparse imports shutil even when not asked."""
    try:
        width = os.get_terminal_size().columns
    except OSError:
        width = 80
    return HelpFormatter(prog, width=max(width - 2, 20))


def _parser(commands: Iterable[Command] = COMMANDS) -> ArgumentParser:
    parser = ArgumentParser(
        prog="runbook",
        formatter_class=_formatter,
        description="The shoot day of a studio photographer, walked through in the terminal.",
        epilog="exit status: 0 no problems; 1 problems found; 2 the input cannot be read",
    )
    parser.add_argument("--version", action="version", version=f"runbook {__version__}")
    words = parser.add_subparsers(dest="command", metavar="COMMAND", prog="runbook")
    for command in commands:
        added = words.add_parser(command.name, help=command.says, formatter_class=_formatter)
        command.arguments(added)
    return parser


def run() -> NoReturn:
    """The installed command.

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
        _print_errors(*map(str, problem.faults[:_FAULTS_MAX]))
        if len(problem.faults) > _FAULTS_MAX:
            _print_errors(f"and {len(problem.faults) - _FAULTS_MAX:,} more faults; correct these first")
        return NOT_READ
    except JournalError as problem:
        _print_errors(f"runbook: {problem}")
        return NOT_READ
    except KeyboardInterrupt:
        return INTERRUPTED
    except BrokenPipeError:
        _leave_pipe()
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
    words = list(argv) or [WITHOUT_WORDS]
    # one command's words are read without making a parser for each of the others
    parser = _parser([command for command in COMMANDS if command.name == words[0]] or COMMANDS)
    try:
        args = parser.parse_args(words)
    except SystemExit as leaving:  # argparse has said why, or answered --help
        return leaving.code if isinstance(leaving.code, int) else NOT_READ
    if args.command is None:
        parser.print_help()
        return FINE
    status: int = import_module(f"runbook.commands.{args.command}").run(args)
    return status


def _leave_pipe() -> None:
    """Nobody reads any more: keep the interpreter from trying once again as it ends."""
    try:
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
    except (OSError, ValueError):
        sys.stdout = None


def _unexpected(problem: Exception) -> str:
    """One line for what should never happen, and where the rest of it is."""
    said = " ".join(str(problem).split())[:200]
    where = _write_traceback(problem)
    details = f"details in {where}" if where else f"for details set {DEBUG}=1"
    return f"runbook: unexpected {type(problem).__name__}: {said}; {details}"


def _write_traceback(problem: Exception) -> str | None:
    try:
        import tempfile
        import traceback

        with tempfile.NamedTemporaryFile(
            "w", prefix="runbook-", suffix=".txt", delete=False, encoding="utf-8", errors="replace"
        ) as file:
            file.writelines(traceback.format_exception(problem))
    except (OSError, ImportError):
        return None
    return file.name
