"""Every id of the PCI ID repository, sold under each name that is printed beside it.

No such card may be accused by its id alone: laptop parts, makers' own variants and the
like often lie on another chip than the model's. Where only the repository tells of
that chip the table must say so, not that the model is made of others.
"""

import re

import pytest

from reference.case import Case
from reference.judge import judge
from reference.rules.silicon import pci_id
from reports.record import CardIdentity, Claim, Host, Program, Record

SAME_CHIP = {"1002:6810"}
"""An id of several models of one chip: doubt, and no accusation."""


def names_of(printed):
    """Each name of `Code [Radeon HD 6570/7570 / R5 230]`, also with what it shares."""
    inner = re.search(r"\[(.*)\]", printed)
    found, stem = {}, ""
    for part in re.split(r"\s*/\s*", inner[1]) if inner else ():
        found[part] = None
        if stem and re.match(r"[A-Z]{0,2}\d", part):
            found[stem + part] = None
        begins = re.match(r"(.+?)[A-Z]{0,2}\d{2,}", part)
        stem = begins[1] if begins else stem
    return tuple(found)


def sold(pci, name):
    return Record(
        program=Program(version="0.1.0"),
        practice=False,
        started="2026-11-25T12:00:00Z",
        depth="standard",
        host=Host(system="Linux", release="6", machine="x86_64", python="3.13"),
        card=CardIdentity(label=name, kind="gpu", index=0),
        claims=(
            Claim(layer="listing", source="as given", model=name),
            Claim(layer="pci", source="PCI", pci_id=pci),
        ),
    )


@pytest.fixture(scope="module")
def printed(table, extract):
    return [
        (pci, name)
        for pci, line in extract("pci_ids.tsv")
        for name in names_of(line)
        if table.resolve(name) and not table.chips_named(name)
    ]


def test_no_card_is_accused_under_a_name_its_id_is_listed_with(table, printed):
    assert len(printed) > 700
    for pci, name in printed:
        told = tuple(pci_id(Case(sold(pci, name), table)))
        assert all(one.strength != "decisive" for one in told), (pci, name, told)
        if any(one.bearing == "contradicts" for one in told):
            assert pci in SAME_CHIP, (pci, name, told)


def test_a_quadro_p2000_mobile_may_be_a_gp106(table):
    """The repository lists two chips: 1c35 GP106M and 1cba GP107GLM."""
    for pci in ("10de:1c35", "10de:1cba"):
        verdict = judge(sold(pci, "Quadro P2000 Mobile"), table).verdict
        assert verdict.outcome == "undetermined"
        assert "Doubtful" not in verdict.sentence
    forged = judge(sold("10de:0fc6", "Quadro P2000 Mobile"), table).verdict
    assert forged.outcome == "not as claimed"


def test_what_is_known_of_one_name_loosens_no_other(table):
    """A GTX 960 with GM206 has rows; only its maker's variant is listed without any."""
    case = Case(sold("10de:1401", "GeForce GTX 960"), table)
    assert not case.on_rare_chip
    maker = Case(sold("10de:1406", "GeForce GTX 960 OEM"), table)
    assert maker.on_rare_chip
