"""What has to be true of a run that met a fault, whatever the fault was.

Returns what is not, in words: an empty list is a run that survived. The documented
exit codes are the program's own words (`cardassay check --help`).
"""

import re
from functools import cache
from pathlib import PurePath

from strikes import SCENARIOS, Fault, Struck
from watching import Ended

from reference.case import Case
from reference.judge import conclude, judge
from reference.table import Table, load
from reports import codec
from reports.errors import RecordError
from reports.record import Record

CODES = {"as claimed": 0, "not as claimed": 1, "faulty": 1, "undetermined": 3}
COULD_NOT_TEST = 3
INTERRUPTED = 130
NAME_RULES = {"model-known", "reported-model"}
"""What stays open only because the table knows no card of the processor's name."""
INCIDENTS: dict[Fault, set[str]] = {"hang": {"hung"}, "kill": {"killed"}}
_KEPT = re.compile(
    r"out/(record\.json|report\.html|journal\.txt)"
    r"|state/cardassay/(card-[^/]*|turn-(link|load))\.lock"
)
"""What a run may leave: its documents, and locks' files, which lie there by design."""


@cache
def table() -> Table:
    return load()


def wrong(struck: Struck) -> list[str]:
    """Return what is wrong with a point's run."""
    ended = struck.ended
    found = _at_the_end(ended)
    if struck.record is None:
        return found + _without_record(ended)
    record = _decoded(struck.record)
    if isinstance(record, str):
        return [*found, record]
    if ended.out != struck.record:
        found.append("--json printed something else than was stored")
    found += _said(record, ended, honest=SCENARIOS[struck.point.scenario].honest)
    found += _files(record, ended)
    return found + _true(record, struck)


def outcome(struck: Struck) -> str:
    """Return how a point's run is counted."""
    return "no card found" if struck.record is None else outcome_of(struck.record)


def outcome_of(stored: bytes) -> str:
    """Return what a stored record says."""
    record = _decoded(stored)
    if isinstance(record, str):
        return "an invalid record"
    return record.verdict.outcome if record.verdict else "not judged"


def as_if_known(record: Record) -> str:
    """Return the outcome if the table knew a card of that name.

    No row of the table can be the PC's processor: so nothing would ever be said to be
    as claimed, and a check that it is not could not fail.
    """
    judged = judge(record, table())
    findings = tuple(one for one in judged.findings if one.rule not in NAME_RULES)
    return conclude(Case(record, table()), findings).outcome


def left_behind(ended: Ended) -> list[str]:
    """Return what is wrong after the program was ended from outside."""
    return [f"still running: {ended.left_running}"] if ended.left_running else []


def concluded(ended: Ended, stored: bytes | None) -> list[str]:
    """Return what is wrong with the conclusion of a run that was ended."""
    found = _at_the_end(ended)
    if stored is None:
        return [*found, f"no record after --conclude: {ended.err[-300:]}"]
    record = _decoded(stored)
    if isinstance(record, str):
        return [*found, record]
    if ended.out != stored:
        found.append("--json printed something else than was stored")
    found += _said(record, ended, honest=True)
    found += _files(record, ended)
    if [one.kind for one in record.incidents] not in ([], ["ended"]):
        found.append(f"the record tells of {record.incidents}")
    if not record.incidents and not _is_whole(record):
        found.append("the record does not tell that the program was ended")
    return found


def interrupted(ended: Ended, stored: bytes | None, *, began: bool) -> list[str]:
    """Return what is wrong after Ctrl-C; `began`: whether a journal is left."""
    found = _at_the_end(ended)
    if ended.code != INTERRUPTED:
        found.append(f"code {ended.code} after Ctrl-C")
    if stored is None:
        if began:
            found.append("a journal, but no record after Ctrl-C")
        return found + _others(ended, set())
    record = _decoded(stored)
    if isinstance(record, str):
        return [*found, record]
    if record.verdict is None or record.verdict.outcome == "not as claimed":
        found.append(f"a false outcome: {record.verdict}")
    return found + _files(record, ended)


def _at_the_end(ended: Ended) -> list[str]:
    """Return what is wrong with any run's end."""
    found = []
    if ended.outlasted:
        found.append("it did not end")
    if "Traceback" in ended.err or "a bug in cardassay" in ended.err:
        found.append(f"a bug: {ended.err[-600:]}")
    strange = [line for line in ended.err.splitlines() if not line.isprintable()]
    if strange:
        found.append(f"unprintable on standard error: {strange[0][:200]!r}")
    if ended.left_running:
        found.append(f"still running: {ended.left_running}")
    return found


def _without_record(ended: Ended) -> list[str]:
    found = []
    if ended.code != COULD_NOT_TEST:
        found.append(f"code {ended.code} and no record: {ended.err[-300:]}")
    if ended.out:
        found.append(f"no record, but on standard output {ended.out[:100]!r}")
    if len(re.findall(r"^cardassay: ", ended.err, re.MULTILINE)) != 1:
        found.append(f"not one clear error: {ended.err[-600:]!r}")
    return found + _others(ended, set())


def _decoded(data: bytes) -> Record | str:
    try:
        return codec.decode(data)
    except RecordError as error:
        return f"an invalid record: {error}"


def _said(record: Record, ended: Ended, *, honest: bool) -> list[str]:
    """Return what is wrong with the outcome and its exit code."""
    if record.verdict is None:
        return ["a record without a verdict"]
    found = []
    outcome = record.verdict.outcome
    if ended.code != CODES[outcome]:
        found.append(f"code {ended.code} for {outcome}")
    again = judge(record, table()).verdict
    if again != record.verdict:
        found.append("judged otherwise than it says")
    known = as_if_known(record)
    if honest and "not as claimed" in (outcome, known):
        found.append(f"falsely accused: {record.verdict.sentence}")
    if not honest and "as claimed" in (outcome, known):
        found.append(f"a fake passed: {outcome}, {known}")
    return found


def _files(record: Record, ended: Ended) -> list[str]:
    due = {"out/record.json", "out/report.html"}
    if record.incidents:
        due.add("out/journal.txt")
    return _others(ended, due)


def _others(ended: Ended, due: set[str]) -> list[str]:
    """Return which files are missing or too many."""
    found = [f"missing: {name}" for name in due - set(ended.files)]
    found += [
        f"left over: {name}"
        for name in ended.files
        if not _KEPT.fullmatch(name)
        or (PurePath(name).parts[0] == "out" and name not in due)
    ]
    return found


def _true(record: Record, struck: Struck) -> list[str]:
    """Return what the record tells that is not true of this device and this fault."""
    found = []
    scenario, fault = SCENARIOS[struck.point.scenario], struck.point.fault
    if record.capacity and (record.capacity.proven_bytes or 0) > scenario.real:
        found.append(f"{record.capacity.proven_bytes} bytes proven of {scenario.real}")
    outcome = record.verdict.outcome if record.verdict else ""
    if scenario.honest and outcome == "faulty" and fault != "garbage":
        found.append(f"falsely called faulty: {record.verdict}")
    kinds = {one.kind for one in record.incidents}
    wanted = INCIDENTS.get(fault)
    if wanted and not kinds & wanted and (kinds or not _is_whole(record)):
        found.append(f"{fault} not told: {sorted(kinds)}; {_phases(record)}")
    return found


def _is_whole(record: Record) -> bool:
    """Whether nothing of a quick run is missing: the fault struck when all was told."""
    done = {one.name for one in record.phases if one.outcome == "done"}
    proof = {"verify", "turn", "verify complement", "release"}
    return done >= proof | {"fp32", "memory_read", "memory_write"}


def _phases(record: Record) -> str:
    return ", ".join(f"{one.name} {one.outcome}" for one in record.phases)
