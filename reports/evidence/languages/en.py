"""English."""

import re
from typing import Final

from reports import words
from reports.evidence.wording import (
    PHRASES,
    RATES,
    SETTLE,
    TITLES,
    UNCHECKED,
    LetterWords,
    PageWords,
    ReadmeWords,
    VerdictWords,
    Wording,
)
from reports.summary import rule_title

_SPELT_OUT: Final = re.compile(r"^[AEFHILMNORSX][A-Z0-9]*\b")


def article(name: str) -> str:
    """Return `a GeForce GTX 1070`, `an RX 580`."""
    vowel = name[:1] in set("AEIOUaeiou") or bool(_SPELT_OUT.match(name))
    return f"an {name}" if vowel else f"a {name}"


VERDICT: Final = VerdictWords(
    sold="Sold as {what}.",
    sold_size="Sold as {what} with {size}.",
    reported="Reported as {what}.",
    reported_size="Reported as {what} with {size}.",
    unnamed="unnamed card",
    found="Found: {found}.",
    chip="{what}",
    chip_size="{what} with {size}",
    model="{what}",
    memory="{size} of working memory",
    calls_itself="a card that calls itself {what}",
    instead="{measured} instead of {envelope}",
    pci_owner="the PCI id of {what}",
    both="{one}, and {other}",
    nothing_against="{size} of working memory, and nothing against it",
    wrong_memory="memory that gives back wrong data",
    wrong_results="arithmetic that comes out wrong",
    not_false="Nothing proves it false, but it could not be confirmed either.",
    doubtful="Doubtful, but not proven false.",
    none="The test came to no verdict.",
    as_claimed="As claimed.",
    not_as_claimed="Not as claimed.",
    faulty="Faulty.",
    undetermined="Undetermined.",
    not_and_faulty="Not as claimed, and faulty as well.",
)

PAGE: Final = PageWords(
    title="Evidence: {card}",
    wordmark="Evidence pack",
    about="This pack",
    practice="PRACTICE: no real card was tested. Simulated: {condition}.",
    interrupted="The test was stopped before its end: only what was learnt until then "
    "is shown.",
    judged_option="What the card was sold as was given when this pack was made, and "
    "the record judged again by it; the record as it was stored is in the pack as "
    "well.",
    judged_listing="What the card was sold as was taken from the listing's text when "
    "this pack was made ({claim}), and the record judged again by it; the record as "
    "it was stored is in the pack as well.",
    not_held="The listing was not compared with what was measured: its text alone "
    "does not say beyond doubt what the card was sold as. The verdict is on what the "
    "card says of itself. To have it judged by the listing, make this pack again with "
    "--claim MODEL and --claim-memory SIZE.",
    other_models="The listing's text names {models}; the card was judged as {claim}.",
    said="What the listing says",
    said_note="Word for word; characters that cannot be shown stand as "
    "\N{REPLACEMENT CHARACTER}. SHA-256 of what was given:",
    cut="The text is cut here: it has {signs} characters, of which the first {kept} "
    "are shown.",
    from_page="This is the text that the saved page shows.",
    compared="What was said, and what was found",
    fact="Fact",
    claimed="Claimed",
    found="Found",
    genuine="A genuine one shows",
    more_rows="The report (report.html) has all {rows} comparisons, with their sources "
    "and pictures.",
    findings="What was found, in plain words",
    findings_note="“Decisive” means: no genuine card of that model can do this.",
    decisive="Decisive",
    quoted="in the report's own words",
    photos="The card in photos",
    photo="Photo {number}",
    shows={
        "die": "The marking of the graphics chip",
        "connectors": "The connectors",
        "label": "The label",
        "box": "The box",
    },
    photo_file="In the pack as {file}, {width} × {height} pixels.",  # noqa: RUF001 - the sign for it
    place_removed="The original holds the place where it was taken; it was removed "
    "from this copy.",
    no_place="No place where it was taken was found in the original.",
    place_unknown="What the camera noted could not be read; nothing of it is in this "
    "copy.",
    inspected="It is one of those that were looked at when the card was inspected.",
    photos_note="These are copies without anything that the camera noted. Keep the "
    "originals: their SHA-256 is listed below, so they can be shown to be the source.",
    no_photos="There are no photos in this pack. Photos of the chip's marking, the "
    "connectors and the label make it stronger; they are added with --photo.",
    untested="What was not tested",
    not_read="The firmware: its chip was not read out.",
    not_looked="The card itself: nobody looked at markings, connectors and memory "
    "chips.",
    not_soaked="Whether the card holds up under lasting load.",
    settle="What would settle it",
    check="How to check this yourself",
    check_steps=(
        (
            "Unpack the zip. On Linux or a Mac, `sha256sum -c hashes.txt` (or `shasum "
            "-a 256 -c hashes.txt`) compares every file with its checksum; on "
            "Windows, `certutil -hashfile FILE SHA256` prints that of one file."
        ),
        (
            "The record holds all that was measured. `cardassay show record.json` "
            "shows it, `cardassay rejudge record.json` judges it again."
        ),
        (
            "The surest way: put the card into another PC and run `cardassay check` "
            "there. The chip and its memory are the same in every PC."
        ),
    ),
    check_anew="The record was judged again by the listing: that one is "
    "record-judged.json; record.json is as it was stored.",
    cautions="Bear in mind",
    caution_lines=(
        (
            "The result holds for the card that was tested. That it is the card that "
            "was delivered has to be shown by other means: photos of the label, of "
            "the parcel."
        ),
        (
            "Slow alone proves nothing: heat, too little power, a riser or another "
            "program slow a genuine card."
        ),
        "This pack says what was found, not how it came about or who knew of it.",
        (
            "The pack is not signed: it is worth as much as the person who made it. "
            "But everything in it can be checked on the card."
        ),
    ),
    caution_keep="Keep the card as it is until the matter is settled: do not open it, "
    "do not write firmware to it.",
    caution_faulty="A faulty card can bring down the PC: do not use it for work that "
    "matters.",
    letter="The letter",
    letter_note="Ready to be sent, also as letter.txt. Fill in what is left blank.",
    letter_law="This is a request, not legal advice. What a buyer may claim, from whom "
    "and until when, is local law; a consumer advice centre knows it.",
    no_letter_right="There is no letter of complaint: the card is what it was sold as.",
    no_letter_not_held="There is no letter: what the card was sold as was not "
    "compared with what was measured. Make this pack again with --claim MODEL and "
    "--claim-memory SIZE.",
    hashes="Checksums",
    hashes_note="SHA-256 of the files in the zip; hashes.txt has that of this page as "
    "well.",
    hashes_photos="The photos' originals are not in it; theirs are listed, too.",
    file="File",
    size="Size",
    signs="SHA-256",
    original="the original of {file}",
    bytes="{size} bytes",
    save_record="Save the record that this page carries",
    save_case="Save the case that this page carries",
    digest="The record in this page has the SHA-256 digest",
    card="Card",
    tested="Tested",
    depth="Depth of the test",
    quick="quick",
    standard="standard",
    thorough="thorough",
    program="Program",
    table="Table of genuine cards",
    made="Pack made",
    gib="GiB is the exact name of the unit that listings call GB of memory.",
)

LETTER: Final = LetterWords(
    to="To: {value}",
    order="Order number: {value}",
    bought="Bought on: {value}",
    price="Price paid: {value}",
    date="Date: {value}",
    subject_not="Subject: Graphics card not as described; request for return and "
    "refund",
    subject_faulty="Subject: Graphics card with a fault; request for return and refund",
    subject_open="Subject: Graphics card, result of a test still open",
    greeting="Hello,",
    offered="I am writing about a graphics card that I bought. It was offered as: "
    "{claim}.",
    offered_enclosed="I am writing about a graphics card that I bought. The text of "
    "the offer is enclosed.",
    tested="On {day} the card was tested with cardassay {version}, a program that "
    "reads what the card says of itself and then measures the card. The result:",
    found="In detail:",
    open="What is open:",
    facts_only="This is what was found on the card. It does not say how it came "
    "about, or who knew of it.",
    facts_only_faulty="This is what was found on the card. It does not say where the "
    "fault comes from.",
    facts_only_open="The test could not settle whether the card is what it was "
    "offered as. Nothing more is claimed here.",
    ask="I ask for the card to be taken back and the price refunded. Please tell me "
    "how to return it. Until then I keep the card as it is.",
    ask_nothing="For now I only ask that the matter be kept open until a further test "
    "has settled it.",
    enclosed="Enclosed is a zip file with the text of the offer, the record of the "
    "test and the checksums of all files. Anyone who doubts the result can repeat the "
    "test on the card with the same program.",
    enclosed_photos="Enclosed is a zip file with the text of the offer, photos of the "
    "card, the record of the test and the checksums of all files. Anyone who doubts "
    "the result can repeat the test on the card with the same program.",
    closing="Kind regards,",
    practice="PRACTICE: no real card was tested. Not to be sent.",
    read="On {day} what the card says of itself was read out with cardassay "
    "{version}. Its memory and its speed were not measured. The result:",
    enclosed_photo="Enclosed is a zip file with the text of the offer, a photo of the "
    "card, the record of the test and the checksums of all files. Anyone who doubts "
    "the result can repeat the test on the card with the same program.",
)

README: Final = ReadmeWords(
    head="What is in this pack",
    page="the page: verdict, comparison, photos, letter; open it in any browser",
    letter="the letter to the seller or marketplace, as plain text",
    report="the full report of the test, with pictures",
    record="the record of the test, as it was stored",
    judged="the same record, judged again by what the card was sold as",
    listing="the listing's words",
    case="what this pack was made from, for programs",
    photo="a photo of the card, without anything that the camera noted",
    hashes="SHA-256 of every other file",
    check="To check the files: `sha256sum -c hashes.txt` (Linux), `shasum -a 256 -c "
    "hashes.txt` (Mac), `certutil -hashfile FILE SHA256` (Windows, one file).",
    without="Not in here: places, serial numbers and other notes of the camera, names "
    "of folders or of the PC. What the letter says of order and names was given for "
    "it.",
    look="Look everything through before you send it: the listing's words, the names "
    "in the letter and the photos may tell more than you want. The record names the "
    "PC's operating system and the size of its memory, and photos of an inspection by "
    "their file names.",
)

FINDINGS: Final = {
    "memory-bits/mirrored": "The card reports {claim} of memory. Only {proven} of it "
    "is there: the rest is that same memory once more, so that what is written to one "
    "place appears in another.",
    "memory-bits/hollow": "The card reports {claim} of memory. Only {proven} of it is "
    "there: behind the rest there is no memory.",
    "memory-bits/both": "The card reports {claim} of memory. Only {proven} of it is "
    "there: some of the rest is that same memory once more, and behind some there is "
    "no memory.",
    "memory-bits/blocks": "The card reports {claim} of memory. Only {proven} of it "
    "answers: whole blocks of the rest give back nothing that was ever written to "
    "them.",
    "memory-bits/fault": "The memory gives back something other than what was written "
    "to it: {measured}.",
    "memory-bits/agrees": "Every cell that was tested kept what was written to it: "
    "{measured}.",
    "proven-capacity/contradicts": "Of {claim} of memory only {measured} could be "
    "proven.",
    "proven-capacity/spilled": "Of {claim} of memory only {measured} could be proven "
    "to be on the card; for another part the driver took the PC's own memory.",
    "proven-capacity/agrees": "{measured} of {claim} of memory were proven to be "
    "there.",
    "proven-capacity/open": "Of {claim} of memory only {measured} were tested.",
    "spilled-memory/open": "For a part of the memory the driver took the PC's own "
    "({measured}): it proves nothing about the card.",
    "reported-model/contradicts": "The card was sold as {claim}, but calls itself "
    "{measured}.",
    "reported-model/agrees": "The card calls itself {measured}, as it was sold.",
    "names-agree/contradicts": "The card is named differently in different places: "
    "{claim} and {measured}. Not both can be right.",
    "pci-id/contradicts": "Its PCI id {id} is that of {owner}, not that of {model}.",
    "silicon-id/contradicts": "The chip itself says that it is {owner}; {model} is not "
    "made of it.",
    "sibling-function/contradicts": "Another function of the card ({id}) belongs to "
    "the chip {owner}; {model} is not made of it.",
    "compute-capability/contradicts": "Its compute capability, the generation of its "
    "chip, is {measured}; for {model} it is {envelope}.",
    "compute-capability/agrees": "Its compute capability, the generation of its chip, "
    "is {measured}, as on {model}.",
    "gfx-target/contradicts": "The driver makes its programs for {measured}; for "
    "{model} it would be {envelope}.",
    "compute-units/contradicts": "The driver counts {measured}; {model} has "
    "{envelope}.",
    "compute-units/agrees": "The driver counts {measured}, as on {model}.",
    "lane-count/contradicts": "The driver counts {measured}; {model} has {envelope}.",
    "lane-count/agrees": "The driver counts {measured}, as on {model}.",
    "counted-units/contradicts": "The chip itself runs {measured} at a time; {model} "
    "has {envelope}. No driver and no firmware has a say in this count.",
    "told-units/contradicts": "The driver says {claim} units, but {measured} run at a "
    "time.",
    "lane-cycles/contradicts": "The chip's lanes times the clocks of one step come to "
    "{measured}; on {model} it is {envelope}, at any clock. That is another "
    "generation of chips.",
    "warp-width/contradicts": "{measured} work-items step together; on {model} it is "
    "{envelope}.",
    "measured-chip/contradicts": "Everything measured together fits the chip {chip}; "
    "{model} is not made of it.",
    "own-word/contradicts": "What the card says of itself does not fit its silicon, "
    "which is that of {chip}.",
    "bus-width/contradicts": "Its memory bus is {measured} wide; on {model} it is "
    "{envelope}.",
    "bus-width/agrees": "Its memory bus is {measured} wide, as on {model}.",
    "listing-memory/contradicts": "The card was sold with {claim}, but reports "
    "{measured}.",
    "listing-memory/agrees": "The card was sold with {claim}, and reports {measured}.",
    "memory-size/contradicts": "The card reports {claim}; {model} was made with "
    "{envelope}.",
    "memory-size/agrees": "The card reports {claim}, a size that {model} was made in.",
    "rate/contradicts": "{rate}: {measured} were measured; a genuine one reaches "
    "{envelope}. Slow alone never decides.",
    "rate/more": "Further rates that are too low: {count}.",
    "ratio/contradicts": "{rate}: {measured} were measured; on a genuine one it is "
    "{envelope}, at any clock.",
    "results/fault": "The card makes errors in arithmetic: {rate}, {measured}.",
    "memory-results/fault": "What was read back was not all as it was written: "
    "{rate}, {measured}.",
    "soak-results/fault": "Under lasting load the card gets its arithmetic wrong.",
    "memory-soak/fault": "Under lasting load the memory gives back wrong data.",
    "other-card/open": "What was measured fits {measured} as well.",
    "lesser-memory/open": "Of {claim} of memory only {measured} could be reached, and "
    "the same chip was sold with less, too.",
    "crash-place/contradicts": "The test was cut off each time when memory above "
    "{place} of {whole} was used; all below it kept its data.",
    "guarded/open": "The test was stopped so that the card would not be harmed.",
    "model-known/open": "The table of genuine cards does not know {claim}.",
    "eye-die-marking/contradicts": "The chip is marked {marking}: that is {owner}; "
    "{model} is not made of it.",
    "eye-power-plugs/contradicts": "Slot and plugs of this card ({measured}) cannot "
    "give the {claim} that {model} draws.",
    "eye-memory-size/contradicts": "The memory chips on the card hold {measured}; "
    "{claim} would be right.",
    "eye-bus-width/contradicts": "The memory chips on the card make a bus of "
    "{measured} at most; on {model} it is {envelope}.",
    "eye-analog-output/contradicts": "The card has an analog output ({measured}); the "
    "chip of {model} cannot drive one by itself.",
    "proven-capacity/refused": "Of {claim} of memory the driver gave the test only "
    "{measured}. The rest could not be tested.",
    "pci-id/other-maker": "Its PCI id {id} is that of another maker's card, not that "
    "of {model}.",
    "firmware-version/contradicts": "Its firmware {id} is of the kind made for the "
    "chip {owner}; {model} is not made of it.",
}

WORDING: Final = Wording(
    code="en",
    decimal=".",
    thousands=",",
    grouped_from=1_000,
    article=article,
    quotes=("“", "”"),
    verdict=VERDICT,
    page=PAGE,
    letter=LETTER,
    readme=README,
    rate="{rate}",
    ratio="{rate}, beside single precision",
    results="{rate}: results",
    rates={one: words.RATE[one] for one in RATES},
    titles={one: rule_title(one) for one in TITLES},
    findings=FINDINGS,
    months=(
        *("January", "February", "March", "April", "May", "June", "July", "August"),
        *("September", "October", "November", "December"),
    ),
    day="{day} {month} {year}",
    phrases={one: one for one in PHRASES},
    unchecked={one: one for one in UNCHECKED},
    settle={one: one for one in SETTLE},
)
