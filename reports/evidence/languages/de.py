"""German."""

from typing import Final

from reports.evidence.wording import (
    LetterWords,
    PageWords,
    ReadmeWords,
    VerdictWords,
    Wording,
)

VERDICT: Final = VerdictWords(
    sold="Verkauft als {what}.",
    sold_size="Verkauft als {what} mit {size}.",
    reported="Meldet sich als {what}.",
    reported_size="Meldet sich als {what} mit {size}.",
    unnamed="Karte ohne Namen",
    found="Gefunden: {found}.",
    chip="eine Karte mit dem Chip {what}",
    chip_size="eine Karte mit dem Chip {what} und {size} Speicher",
    model="{what}",
    memory="{size} funktionierender Speicher",
    calls_itself="die Eigenangabe „{what}“",
    instead="{measured} statt {envelope}",
    pci_owner="eine PCI-Kennung, die für {what} steht",
    both="{one} und {other}",
    nothing_against="{size} funktionierender Speicher und nichts, was dagegen spricht",
    wrong_memory="fehlerhafter Speicher",
    wrong_results="falsche Rechenergebnisse",
    not_false="Nichts widerlegt das, doch bestätigen ließ es sich auch nicht.",
    doubtful="Zweifelhaft, aber nicht widerlegt.",
    none="Die Prüfung kam zu keinem Urteil.",
    as_claimed="Wie angegeben.",
    not_as_claimed="Nicht wie angegeben.",
    faulty="Defekt.",
    undetermined="Nicht entschieden.",
    not_and_faulty="Nicht wie angegeben und außerdem defekt.",
)

PAGE: Final = PageWords(
    title="Belege: {card}",
    wordmark="Belegmappe",
    about="Diese Mappe",
    practice="ÜBUNG: Es wurde keine echte Karte geprüft. Simuliert: {condition}.",
    interrupted="Die Prüfung wurde vor ihrem Ende abgebrochen: Gezeigt wird nur, was "
    "bis dahin bekannt war.",
    judged_option="Als was die Karte verkauft wurde, wurde beim Erstellen dieser "
    "Mappe angegeben und das Protokoll danach neu beurteilt; das ursprünglich "
    "gespeicherte Protokoll liegt ebenfalls bei.",
    judged_listing="Als was die Karte verkauft wurde, wurde beim Erstellen dieser "
    "Mappe dem Text des Angebots entnommen ({claim}) und das Protokoll danach neu "
    "beurteilt; das ursprünglich gespeicherte Protokoll liegt ebenfalls bei.",
    not_held="Das Angebot wurde nicht mit den Messungen verglichen: Aus seinem Text "
    "allein geht nicht zweifelsfrei hervor, als was die Karte verkauft wurde. Das "
    "Urteil betrifft, was die Karte von sich selbst angibt. Soll sie nach dem Angebot "
    "beurteilt werden, erstellen Sie diese Mappe noch einmal mit --claim MODELL und "
    "--claim-memory GRÖSSE.",
    other_models="Der Text des Angebots nennt {models}; beurteilt wurde die Karte als "
    "{claim}.",
    said="Was das Angebot sagt",
    said_note="Wort für Wort; Zeichen, die sich nicht zeigen lassen, stehen als "
    "\N{REPLACEMENT CHARACTER}. SHA-256 der Vorlage:",
    cut="Hier ist der Text gekürzt: Er hat {signs} Zeichen, gezeigt sind die ersten "
    "{kept}.",
    from_page="Das ist der Text, den die gespeicherte Seite zeigt.",
    compared="Was angegeben war und was gefunden wurde",
    fact="Merkmal",
    claimed="Angegeben",
    found="Gefunden",
    genuine="Eine echte zeigt",
    more_rows="Der Bericht (report.html, englisch) enthält alle {rows} Vergleiche mit "
    "ihren Quellen und Bildern.",
    findings="Was gefunden wurde, in einfachen Worten",
    findings_note="„Entscheidend“ heißt: Keine echte Karte dieses Modells kann das.",
    decisive="Entscheidend",
    quoted="im Wortlaut des Berichts, englisch",
    photos="Die Karte in Fotos",
    photo="Foto {number}",
    shows={
        "die": "Die Beschriftung des Grafikchips",
        "connectors": "Die Anschlüsse",
        "label": "Der Aufkleber",
        "box": "Die Verpackung",
    },
    photo_file="In der Mappe als {file}, {width} × {height} Bildpunkte.",  # noqa: RUF001 - the sign for it
    place_removed="Das Original enthält den Ort der Aufnahme; aus dieser Kopie wurde "
    "er entfernt.",
    no_place="Im Original wurde kein Ort der Aufnahme gefunden.",
    place_unknown="Was die Kamera vermerkt hat, ließ sich nicht lesen; in dieser Kopie "
    "ist nichts davon.",
    inspected="Dieses Foto lag bei der Besichtigung der Karte vor.",
    photos_note="Das sind Kopien ohne alles, was die Kamera vermerkt hat. Bewahren Sie "
    "die Originale auf: Ihre SHA-256-Werte stehen unten, so lassen sie sich als Quelle "
    "nachweisen.",
    no_photos="Diese Mappe enthält keine Fotos. Fotos der Chipbeschriftung, der "
    "Anschlüsse und des Aufklebers geben ihr mehr Gewicht; mit --photo kommen sie "
    "hinzu.",
    untested="Was nicht geprüft wurde",
    not_read="Die Firmware: Ihr Chip wurde nicht ausgelesen.",
    not_looked="Die Karte selbst: Niemand hat Beschriftungen, Anschlüsse und "
    "Speicherchips angesehen.",
    not_soaked="Ob die Karte Dauerlast standhält.",
    settle="Was Klarheit schaffen würde",
    check="So können Sie das selbst nachprüfen",
    check_steps=(
        (
            "Entpacken Sie die Zip-Datei. Unter Linux oder auf einem Mac vergleicht "
            "`sha256sum -c hashes.txt` (oder `shasum -a 256 -c hashes.txt`) jede "
            "Datei mit ihrer Prüfsumme; unter Windows gibt `certutil -hashfile DATEI "
            "SHA256` die einer einzelnen Datei aus."
        ),
        (
            "Das Protokoll enthält alles, was gemessen wurde. `cardassay show "
            "record.json` zeigt es, `cardassay rejudge record.json` beurteilt es noch "
            "einmal."
        ),
        (
            "Am sichersten: Setzen Sie die Karte in einen anderen PC ein und starten "
            "Sie dort `cardassay check`. Chip und Speicher sind in jedem PC "
            "dieselben."
        ),
    ),
    check_anew="Das Protokoll wurde nach dem Angebot neu beurteilt: Das neu "
    "beurteilte ist record-judged.json; record.json ist das ursprünglich gespeicherte.",
    cautions="Bitte bedenken Sie",
    caution_lines=(
        (
            "Das Ergebnis gilt für die Karte, die geprüft wurde. Dass es die "
            "gelieferte ist, muss anders gezeigt werden: mit Fotos vom Aufkleber und "
            "vom Paket."
        ),
        (
            "Langsamkeit allein beweist nichts: Hitze, zu wenig Strom, eine "
            "Steckplatzverlängerung (Riser) oder ein anderes Programm bremsen auch "
            "eine echte Karte."
        ),
        (
            "Diese Mappe sagt, was gefunden wurde, nicht, wie es dazu kam oder wer "
            "davon wusste."
        ),
        (
            "Die Mappe ist nicht unterschrieben: Sie ist so viel wert wie die Person, "
            "die sie erstellt hat. Doch alles darin lässt sich an der Karte "
            "nachprüfen."
        ),
    ),
    caution_keep="Lassen Sie die Karte, wie sie ist, bis die Sache geklärt ist: nicht "
    "öffnen, keine Firmware aufspielen.",
    caution_faulty="Eine defekte Karte kann den PC zum Absturz bringen: Nutzen Sie sie "
    "nicht für wichtige Arbeit.",
    letter="Das Schreiben",
    letter_note="Fertig zum Absenden, auch als letter.txt. Ergänzen Sie, was frei "
    "gelassen ist.",
    letter_law="Das ist eine Bitte, keine Rechtsberatung. Was Käufer verlangen können, "
    "von wem und bis wann, regelt das örtliche Recht; eine Verbraucherberatung kennt "
    "es.",
    no_letter_right="Ein Beschwerdeschreiben gibt es nicht: Die Karte ist das, als was "
    "sie verkauft wurde.",
    no_letter_not_held="Ein Schreiben gibt es nicht: Als was die Karte verkauft wurde, "
    "wurde nicht mit den Messungen verglichen. Erstellen Sie diese Mappe noch einmal "
    "mit --claim MODELL und --claim-memory GRÖSSE.",
    hashes="Prüfsummen",
    hashes_note="SHA-256 der Dateien in der Zip-Datei; hashes.txt enthält auch den "
    "Wert dieser Seite.",
    hashes_photos="Die Originale der Fotos sind nicht darin; ihre Werte stehen "
    "ebenfalls hier.",
    file="Datei",
    size="Größe",
    signs="SHA-256",
    original="das Original von {file}",
    bytes="{size} Byte",
    save_record="Das Protokoll speichern, das diese Seite enthält",
    save_case="Die Fallangaben speichern, die diese Seite enthält",
    digest="Das Protokoll in dieser Seite hat den SHA-256-Wert",
    card="Karte",
    tested="Geprüft",
    depth="Prüftiefe",
    quick="schnell",
    standard="normal",
    thorough="gründlich",
    program="Programm",
    table="Tabelle echter Karten",
    made="Mappe erstellt",
    gib="GiB ist die genaue Bezeichnung der Einheit, die Angebote bei Speicher GB "
    "nennen.",
)

LETTER: Final = LetterWords(
    to="An: {value}",
    order="Bestellnummer: {value}",
    bought="Gekauft am: {value}",
    price="Gezahlter Preis: {value}",
    date="Datum: {value}",
    subject_not="Betreff: Grafikkarte nicht wie beschrieben; Bitte um Rücknahme und "
    "Erstattung",
    subject_faulty="Betreff: Grafikkarte mit Defekt; Bitte um Rücknahme und Erstattung",
    subject_open="Betreff: Grafikkarte, Prüfergebnis noch offen",
    greeting="Guten Tag,",
    offered="es geht um eine Grafikkarte, die ich gekauft habe. Angeboten wurde sie "
    "als: {claim}.",
    offered_enclosed="es geht um eine Grafikkarte, die ich gekauft habe. Der Text des "
    "Angebots liegt bei.",
    tested="Am {day} wurde die Karte mit cardassay {version} geprüft, einem Programm, "
    "das ausliest, was die Karte von sich angibt, und sie dann selbst misst. Das "
    "Ergebnis:",
    found="Im Einzelnen:",
    open="Offen ist:",
    facts_only="Das wurde an der Karte festgestellt. Es sagt nichts darüber, wie es "
    "dazu kam oder wer davon wusste.",
    facts_only_faulty="Das wurde an der Karte festgestellt. Es sagt nichts darüber, "
    "woher der Defekt kommt.",
    facts_only_open="Die Prüfung konnte nicht klären, ob die Karte das ist, als was "
    "sie angeboten wurde. Mehr wird hier nicht behauptet.",
    ask="Ich bitte darum, die Karte zurückzunehmen und den Kaufpreis zu erstatten. "
    "Bitte teilen Sie mir mit, wie ich sie zurücksenden soll. Bis dahin lasse ich die "
    "Karte, wie sie ist.",
    ask_nothing="Vorerst bitte ich nur darum, den Fall offen zu halten, bis eine "
    "weitere Prüfung ihn geklärt hat.",
    enclosed="Beigefügt ist eine Zip-Datei mit dem Text des Angebots, dem "
    "Prüfprotokoll und den Prüfsummen aller Dateien. Wer am Ergebnis zweifelt, kann "
    "die Prüfung an der Karte mit demselben Programm wiederholen.",
    enclosed_photos="Beigefügt ist eine Zip-Datei mit dem Text des Angebots, Fotos der "
    "Karte, dem Prüfprotokoll und den Prüfsummen aller Dateien. Wer am Ergebnis "
    "zweifelt, kann die Prüfung an der Karte mit demselben Programm wiederholen.",
    closing="Mit freundlichen Grüßen",
    practice="ÜBUNG: Es wurde keine echte Karte geprüft. Nicht zum Absenden.",
    read="Am {day} wurde mit cardassay {version} ausgelesen, was die Karte von sich "
    "selbst angibt. Ihr Speicher und ihre Geschwindigkeit wurden nicht gemessen. Das "
    "Ergebnis:",
    enclosed_photo="Beigefügt ist eine Zip-Datei mit dem Text des Angebots, einem "
    "Foto der Karte, dem Prüfprotokoll und den Prüfsummen aller Dateien. Wer am "
    "Ergebnis zweifelt, kann die Prüfung an der Karte mit demselben Programm "
    "wiederholen.",
)

README: Final = ReadmeWords(
    head="Was in dieser Mappe ist",
    page="die Seite: Urteil, Vergleich, Fotos, Schreiben; öffnet sich in jedem Browser",
    letter="das Schreiben an Verkäufer oder Marktplatz als einfacher Text",
    report="der ganze Prüfbericht mit Bildern (englisch)",
    record="das Prüfprotokoll, wie es gespeichert war",
    judged="dasselbe Protokoll, neu danach beurteilt, als was die Karte verkauft wurde",
    listing="der Wortlaut des Angebots",
    case="woraus diese Mappe gemacht ist, für Programme",
    photo="ein Foto der Karte, ohne alles, was die Kamera vermerkt hat",
    hashes="SHA-256 jeder anderen Datei",
    check="Zum Prüfen der Dateien: `sha256sum -c hashes.txt` (Linux), `shasum -a 256 "
    "-c hashes.txt` (Mac), `certutil -hashfile DATEI SHA256` (Windows, eine Datei).",
    without="Nicht enthalten: Orte, Seriennummern und andere Vermerke der Kamera, "
    "Namen von Ordnern oder des PCs. Was das Schreiben an Bestellung und Namen nennt, "
    "wurde dafür angegeben.",
    look="Sehen Sie alles durch, bevor Sie es absenden: Der Text des Angebots, die "
    "Namen im Schreiben und die Fotos können mehr verraten, als Ihnen lieb ist. Das "
    "Protokoll nennt das Betriebssystem des PCs und die Größe seines Speichers, dazu "
    "Fotos einer Besichtigung mit ihren Dateinamen.",
)

FINDINGS: Final = {
    "memory-bits/mirrored": "Die Karte meldet {claim} Speicher. Vorhanden sind nur "
    "{proven}: Der Rest ist derselbe Speicher noch einmal; was an einer Stelle "
    "geschrieben wird, erscheint auch an einer anderen.",
    "memory-bits/hollow": "Die Karte meldet {claim} Speicher. Vorhanden sind nur "
    "{proven}: Hinter dem Rest ist kein Speicher.",
    "memory-bits/both": "Die Karte meldet {claim} Speicher. Vorhanden sind nur "
    "{proven}: Ein Teil des Rests ist derselbe Speicher noch einmal, und hinter einem "
    "Teil ist kein Speicher.",
    "memory-bits/blocks": "Die Karte meldet {claim} Speicher. Nur {proven} antworten: "
    "Ganze Blöcke des Rests geben nichts von dem zurück, was je in sie geschrieben "
    "wurde.",
    "memory-bits/fault": "Der Speicher gibt etwas anderes zurück, als in ihn "
    "geschrieben wurde: {measured}.",
    "memory-bits/agrees": "Jede geprüfte Zelle behielt, was in sie geschrieben wurde: "
    "{measured}.",
    "proven-capacity/contradicts": "Von {claim} Speicher ließen sich nur {measured} "
    "nachweisen.",
    "proven-capacity/spilled": "Von {claim} Speicher ließen sich nur {measured} auf "
    "der Karte nachweisen; für einen weiteren Teil nahm der Treiber den Speicher des "
    "PCs.",
    "proven-capacity/agrees": "{measured} von {claim} Speicher sind nachgewiesen.",
    "proven-capacity/open": "Von {claim} Speicher wurden nur {measured} geprüft.",
    "spilled-memory/open": "Für einen Teil des Speichers nahm der Treiber den des PCs "
    "({measured}): Das beweist nichts über die Karte.",
    "reported-model/contradicts": "Verkauft wurde die Karte als {claim}; sie selbst "
    "nennt sich {measured}.",
    "reported-model/agrees": "Die Karte nennt sich {measured}, wie verkauft.",
    "names-agree/contradicts": "Die Karte heißt an verschiedenen Stellen verschieden: "
    "{claim} und {measured}. Beides zugleich kann nicht stimmen.",
    "pci-id/contradicts": "Ihre PCI-Kennung {id} steht für {owner}; eine {model} hat "
    "eine andere.",
    "silicon-id/contradicts": "Der Chip selbst nennt sich {owner}; eine {model} hat "
    "einen anderen.",
    "sibling-function/contradicts": "Eine weitere Funktion der Karte ({id}) gehört zum "
    "Chip {owner}; eine {model} hat einen anderen.",
    "compute-capability/contradicts": "Die Generation ihres Chips (Compute Capability) "
    "ist {measured}; bei einer {model} ist sie {envelope}.",
    "compute-capability/agrees": "Die Generation ihres Chips (Compute Capability) ist "
    "{measured}, wie bei einer {model}.",
    "gfx-target/contradicts": "Der Treiber übersetzt Programme für {measured}; bei "
    "einer {model} wäre es {envelope}.",
    "compute-units/contradicts": "Der Treiber zählt {measured}; eine {model} hat "
    "{envelope}.",
    "compute-units/agrees": "Der Treiber zählt {measured}, wie bei einer {model}.",
    "lane-count/contradicts": "Der Treiber zählt {measured}; eine {model} hat "
    "{envelope}.",
    "lane-count/agrees": "Der Treiber zählt {measured}, wie bei einer {model}.",
    "counted-units/contradicts": "Im Chip selbst arbeiten {measured} gleichzeitig; "
    "eine {model} hat {envelope}. Auf diese Zählung haben weder Treiber noch Firmware "
    "Einfluss.",
    "told-units/contradicts": "Der Treiber nennt {claim} Recheneinheiten, gleichzeitig "
    "arbeiten aber {measured}.",
    "lane-cycles/contradicts": "Rechenwerke mal Takte eines Rechenschritts ergeben "
    "{measured}; bei einer {model} sind es {envelope}, bei jedem Takt. Das ist eine "
    "andere Chipgeneration.",
    "warp-width/contradicts": "{measured} Arbeitselemente laufen im Gleichschritt; bei "
    "einer {model} sind es {envelope}.",
    "measured-chip/contradicts": "Alle Messungen zusammen passen zum Chip {chip}; eine "
    "{model} hat einen anderen.",
    "own-word/contradicts": "Was die Karte von sich angibt, passt nicht zu ihrem "
    "Chip, einem {chip}.",
    "bus-width/contradicts": "Ihre Speicheranbindung ist {measured} breit; bei einer "
    "{model} sind es {envelope}.",
    "bus-width/agrees": "Ihre Speicheranbindung ist {measured} breit, wie bei einer "
    "{model}.",
    "listing-memory/contradicts": "Verkauft wurde die Karte mit {claim}, sie meldet "
    "aber {measured}.",
    "listing-memory/agrees": "Verkauft wurde die Karte mit {claim}, und sie meldet "
    "{measured}.",
    "memory-size/contradicts": "Die Karte meldet {claim}; eine {model} gab es mit "
    "{envelope}.",
    "memory-size/agrees": "Die Karte meldet {claim}; in dieser Größe gab es eine "
    "{model}.",
    "rate/contradicts": "{rate}: Gemessen wurden {measured}; eine echte Karte erreicht "
    "{envelope}. Langsamkeit allein entscheidet nie.",
    "rate/more": "Weitere zu niedrige Geschwindigkeiten: {count}.",
    "ratio/contradicts": "{rate}: Gemessen wurden {measured}; bei einer echten Karte "
    "sind es {envelope}, bei jedem Takt.",
    "results/fault": "Die Karte macht Rechenfehler: {rate}, {measured}.",
    "memory-results/fault": "Nicht alles, was zurückgelesen wurde, war so, wie es "
    "geschrieben worden war: {rate}, {measured}.",
    "soak-results/fault": "Unter Dauerlast rechnet die Karte falsch.",
    "memory-soak/fault": "Unter Dauerlast gibt der Speicher falsche Daten zurück.",
    "other-card/open": "Was gemessen wurde, passt ebenso zu einer {measured}.",
    "lesser-memory/open": "Von {claim} Speicher waren nur {measured} erreichbar, und "
    "denselben Chip gab es auch mit weniger.",
    "crash-place/contradicts": "Die Prüfung brach jedes Mal ab, sobald Speicher "
    "oberhalb von {place} (von {whole}) benutzt wurde; alles darunter behielt seine "
    "Daten.",
    "guarded/open": "Die Prüfung wurde angehalten, damit die Karte keinen Schaden "
    "nimmt.",
    "model-known/open": "Die Tabelle echter Karten kennt {claim} nicht.",
    "eye-die-marking/contradicts": "Der Chip trägt die Beschriftung {marking}: Das ist "
    "ein {owner}; eine {model} hat einen anderen.",
    "eye-power-plugs/contradicts": "Eine {model} braucht {claim}; Steckplatz und "
    "Stromanschlüsse dieser Karte ({measured}) können das nicht liefern.",
    "eye-memory-size/contradicts": "Die Speicherchips auf der Karte fassen {measured}; "
    "richtig wären {claim}.",
    "eye-bus-width/contradicts": "Die Speicherchips auf der Karte ergeben höchstens "
    "eine Anbindung von {measured}; bei einer {model} sind es {envelope}.",
    "eye-analog-output/contradicts": "Die Karte hat einen analogen Ausgang "
    "({measured}); der Chip einer {model} kann von sich aus keinen ansteuern.",
    "proven-capacity/refused": "Von {claim} Speicher gab der Treiber nur {measured} "
    "für die Prüfung frei. Der Rest ließ sich nicht prüfen.",
    "pci-id/other-maker": "Ihre PCI-Kennung {id} ist die einer Karte eines anderen "
    "Herstellers, nicht die einer {model}.",
    "firmware-version/contradicts": "Ihre Firmware {id} ist von der Art, die für den "
    "Chip {owner} gemacht ist; eine {model} hat einen anderen.",
}

PHRASES: Final = {
    "every cell keeps its own data": "jede Zelle behält ihre eigenen Daten",
    "silicon and word of one card": "Chip und Angaben einer einzigen Karte",
    "no other card fits as well": "keine andere Karte passt ebenso",
    "a test that runs to its end": "eine Prüfung, die zu Ende läuft",
    "a test that can run to its end": "eine Prüfung, die zu Ende laufen kann",
    "one name in all layers": "überall derselbe Name",
    "all of it can be used": "aller Speicher ist nutzbar",
    "all of it on the card": "alles auf der Karte",
    "in the PC's memory": "im Speicher des PCs",
    "another maker's card": "eine Karte eines anderen Herstellers",
    "not in the table": "nicht in der Tabelle",
    "no power connector": "kein Stromanschluss",
    "of working memory": "funktionierender Speicher",
    "streaming multiprocessors": "Recheneinheiten",
    "streaming multiprocessor": "Recheneinheit",
    "compute units": "Recheneinheiten",
    "compute unit": "Recheneinheit",
    "Xe cores": "Xe-Kerne",
    "Xe core": "Xe-Kern",
    "digital outputs": "digitale Ausgänge",
    "results wrong": "Ergebnissen falsch",
    "none wrong": "keines falsch",
    "of the cells": "der Zellen",
    "by its model": "laut Modell",
    "not said": "nicht angegeben",
    "variants in the table": "Varianten in der Tabelle",
    "variant in the table": "Variante in der Tabelle",
    "all of one variant": "alles von einer Variante",
    "cut off at": "abgebrochen bei",
    "chips of": "Chips zu",
    "chip of": "Chip zu",
    "of fp32": "von fp32",
    "at least": "mindestens",
    "answered": "haben geantwortet",
    "work-groups": "Arbeitsgruppen",
    "work-group": "Arbeitsgruppe",
    "lanes and": "Rechenwerken und",
    "lanes": "Rechenwerke",
    "bits": "Bit",
    "cells": "Zellen",
    "cell": "Zelle",
    "others": "andere",
    "with": "mit",
    "and": "und",
    "for": "für",
    "of": "von",
    "or": "oder",
    "to": "bis",
    "T op/s": "Bill. Op./s",
    "G op/s": "Mrd. Op./s",
}

TITLES: Final = {
    "memory-bits": "Funktionierender Speicher",
    "proven-capacity": "Nachgewiesener Speicher",
    "spilled-memory": "Ausgelagerter Speicher",
    "memory-size": "Speichergröße",
    "listing-memory": "Speicher laut Angebot",
    "memory-soak": "Speicher unter Dauerlast",
    "reported-model": "Gemeldetes Modell",
    "names-agree": "Namen an allen Stellen",
    "model-known": "Modell",
    "pci-id": "PCI-Kennung",
    "silicon-id": "Nummer des Chips selbst",
    "sibling-function": "Weitere Funktionen",
    "compute-capability": "Compute Capability",
    "gfx-target": "Übersetzungsziel",
    "compute-units": "Recheneinheiten",
    "lane-count": "Rechenwerke",
    "counted-units": "Gezählte Recheneinheiten",
    "told-units": "Genannte Recheneinheiten",
    "lane-cycles": "Rechenwerke mal Takte",
    "warp-width": "Gleichschritt",
    "resident-groups": "Gruppen je Einheit",
    "measured-chip": "Gemessener Chip",
    "own-word": "Eigene Angaben",
    "bus-width": "Speicheranbindung",
    "other-card": "Andere Karte",
    "lesser-memory": "Weniger Speicher",
    "one-variant": "Eine Variante",
    "too-fast": "Zu schnell",
    "crash-place": "Ort des Abbruchs",
    "cut-off": "Abbruch",
    "guarded": "Prüfbar",
    "graphics-card": "Art des Geräts",
    "heat": "Hitze",
    "soak": "Dauerlast",
    "soak-results": "Ergebnisse unter Dauerlast",
    "rate-kept": "Tempo unter Dauerlast",
    "firmware-version": "Version der Firmware",
    "firmware-image": "Inhalt der Firmware",
    "driver-package": "Treiberpaket",
    "analog-output": "Analoger Ausgang",
    "link-maximum": "Schnellste Verbindung",
    "eye-die-marking": "Beschriftung des Chips",
    "eye-analog-output": "Analoge Buchse",
    "eye-power-plugs": "Stromanschlüsse",
    "eye-memory-size": "Speicherchips, Größe",
    "eye-bus-width": "Speicherchips, Anbindung",
    "eye-memory-proven": "Speicherchips und Nachweis",
    "eye-contacts": "Kontaktleiste",
    "eye-label": "Aufkleber",
}

RATES: Final = {
    "fp32": "Einfache Genauigkeit (fp32)",
    "fp64": "Doppelte Genauigkeit (fp64)",
    "fp16": "Halbe Genauigkeit (fp16)",
    "int32": "Ganze Zahlen (int32)",
    "transcendental": "Zweierpotenzen (exp2)",
    "memory_read": "Speicher, Lesen",
    "memory_write": "Speicher, Schreiben",
    "memory_copy": "Speicher, Kopieren",
    "local_memory": "Lokaler Speicher",
    "link_up": "Verbindung, PC zur Karte",
    "link_down": "Verbindung, Karte zum PC",
}

UNCHECKED: Final = {
    "The listing: what the card was sold as was not told.": "Das Angebot: Als was die "
    "Karte verkauft wurde, war nicht angegeben.",
    "OpenCL's word: the compute driver said nothing of the card.": "Angaben von "
    "OpenCL: Der Rechentreiber sagte nichts über die Karte.",
    "NVML's word: NVIDIA's management library said nothing of the card.": "Angaben von "
    "NVML: NVIDIAs Verwaltungsbibliothek sagte nichts über die Karte.",
    "The PCI ids: the system did not show them.": "Die PCI-Kennungen: Das System "
    "zeigte sie nicht.",
    "The memory's real size.": "Die wirkliche Größe des Speichers.",
    "Its units, its arithmetic and the speed of its memory.": "Ihre Recheneinheiten, "
    "ihre Rechenleistung und das Tempo ihres Speichers.",
    "Its firmware: no read of the chip was given.": "Ihre Firmware: Der Chip wurde "
    "nicht ausgelesen.",
    "The card itself: nobody looked at it.": "Die Karte selbst: Niemand hat sie "
    "angesehen.",
    "Heat, clocks and power: no sensors were read.": "Temperatur, Takt und Leistung: "
    "Es wurden keine Sensoren gelesen.",
    "Half precision (fp16): its driver offers no fp16 (cl_khr_fp16).": "Halbe "
    "Genauigkeit (fp16): Ihr Treiber bietet kein fp16 (cl_khr_fp16).",
}

SETTLE: Final = {
    "Choose the graphics card itself from the list of cards.": (
        "Wählen Sie in der Liste der Karten die Grafikkarte selbst."
    ),
    "Name the model with --claim as its box prints it, or give the maker's figures "
    "for it in a file with --reference.": (
        "Geben Sie das Modell mit --claim so an, wie es auf der Verpackung steht, "
        "oder die Angaben des Herstellers in einer Datei mit --reference."
    ),
    "Read the chip's marking, or use the maker's own driver.": (
        "Lesen Sie die Beschriftung des Chips, oder verwenden Sie den Treiber des "
        "Herstellers."
    ),
    "Install the maker's own driver afresh and test again.": (
        "Installieren Sie den Treiber des Herstellers neu, und prüfen Sie noch einmal."
    ),
    "Read the firmware and the chip's marking.": (
        "Lesen Sie die Firmware aus und die Beschriftung des Chips ab."
    ),
    "Test without settings that override the compiler's target.": (
        "Prüfen Sie ohne Einstellungen, die das Übersetzungsziel vorgeben."
    ),
    "Install the maker's own driver and test again.": (
        "Installieren Sie den Treiber des Herstellers, und prüfen Sie noch einmal."
    ),
    "Close every other program, and test again.": (
        "Schließen Sie alle anderen Programme, und prüfen Sie noch einmal."
    ),
    "Let the card cool, close other programs, and test again.": (
        "Lassen Sie die Karte abkühlen, schließen Sie andere Programme, und prüfen "
        "Sie noch einmal."
    ),
    "Read the chip's marking, under its cooler.": (
        "Lesen Sie die Beschriftung des Chips unter dem Kühler."
    ),
    "Install the maker's own driver afresh, and read the chip's marking.": (
        "Installieren Sie den Treiber des Herstellers neu, und lesen Sie die "
        "Beschriftung des Chips."
    ),
    "Close other programs and run the whole test at standard depth, so that units, "
    "caches and every rate are measured; else read the chip's marking.": (
        "Schließen Sie andere Programme, und lassen Sie die ganze Prüfung mit "
        "normaler Tiefe laufen, damit Recheneinheiten, Zwischenspeicher und alle "
        "Geschwindigkeiten gemessen werden; sonst lesen Sie die Beschriftung des "
        "Chips."
    ),
    "Test with a newer driver or on a 64-bit system, so that all its memory is "
    "shown; else look at the memory chips.": (
        "Prüfen Sie mit einem neueren Treiber oder auf einem 64-Bit-System, damit der "
        "ganze Speicher sichtbar ist; sonst sehen Sie sich die Speicherchips an."
    ),
    "Ask what size the card was sold with, and test again.": (
        "Fragen Sie nach, mit wie viel Speicher die Karte verkauft wurde, und prüfen "
        "Sie noch einmal."
    ),
    "Look at the memory chips: their marking gives each one's size.": (
        "Sehen Sie sich die Speicherchips an: Ihre Beschriftung verrät die Größe "
        "jedes einzelnen."
    ),
    "Test again, at greater depth and with another driver.": (
        "Prüfen Sie noch einmal, gründlicher und mit einem anderen Treiber."
    ),
    "Let it cool, and test again with a longer --soak.": (
        "Lassen Sie die Karte abkühlen, und prüfen Sie noch einmal mit einem längeren "
        "--soak."
    ),
    "Close other programs, forbid the driver to fall back on the PC's memory, and "
    "test again.": (
        "Schließen Sie andere Programme, verbieten Sie dem Treiber, auf den Speicher "
        "des PCs auszuweichen, und prüfen Sie noch einmal."
    ),
    "Close other programs, unplug the display from this card, and test again.": (
        "Schließen Sie andere Programme, ziehen Sie den Bildschirm von dieser Karte "
        "ab, und prüfen Sie noch einmal."
    ),
    "Install the maker's own driver afresh, and test again with nothing else "
    "running; look at the memory chips: their marking gives each one's size.": (
        "Installieren Sie den Treiber des Herstellers neu, und prüfen Sie noch "
        "einmal, ohne dass etwas anderes läuft; sehen Sie sich die Speicherchips an: "
        "Ihre Beschriftung verrät die Größe jedes einzelnen."
    ),
    "Install the maker's own driver, test again, and read the chip's marking.": (
        "Installieren Sie den Treiber des Herstellers, prüfen Sie noch einmal, und "
        "lesen Sie die Beschriftung des Chips."
    ),
    "Test again, and read the chip's marking: nothing it says of itself can be "
    "right.": (
        "Prüfen Sie noch einmal, und lesen Sie die Beschriftung des Chips: Nichts, "
        "was die Karte von sich angibt, kann stimmen."
    ),
    "Let the card cool, close other programs, put it into a full-length slot with "
    "all its power plugs, and test again.": (
        "Lassen Sie die Karte abkühlen, schließen Sie andere Programme, setzen Sie "
        "sie mit allen Stromsteckern in einen Steckplatz voller Länge ein, und prüfen "
        "Sie noch einmal."
    ),
    "Test again, with another driver.": (
        "Prüfen Sie noch einmal mit einem anderen Treiber."
    ),
    "Test again with nothing else running.": (
        "Prüfen Sie noch einmal, ohne dass etwas anderes läuft."
    ),
    "Test again outside a virtual machine, and read the chip's marking.": (
        "Prüfen Sie noch einmal außerhalb einer virtuellen Maschine, und lesen Sie "
        "die Beschriftung des Chips."
    ),
    "Read the chip's marking: firmware may be another card's.": (
        "Lesen Sie die Beschriftung des Chips: Firmware kann von einer anderen Karte "
        "stammen."
    ),
    "Read the firmware chip itself, and the chip's marking.": (
        "Lesen Sie den Firmware-Chip selbst aus und die Beschriftung des Grafikchips "
        "ab."
    ),
    "Have a second person read the die's marking, and photograph it.": (
        "Lassen Sie eine zweite Person die Beschriftung des Chips lesen, und "
        "fotografieren Sie sie."
    ),
    "Count the memory chips on both sides again, and look their part number up with "
    "their maker.": (
        "Zählen Sie die Speicherchips auf beiden Seiten noch einmal, und schlagen Sie "
        "ihre Teilenummer beim Hersteller nach."
    ),
    "Count the memory chips on both sides again.": (
        "Zählen Sie die Speicherchips auf beiden Seiten noch einmal."
    ),
    "Look at all edges of the board for power connectors.": (
        "Suchen Sie an allen Kanten der Platine nach Stromanschlüssen."
    ),
    "Test the card under its maker's driver: a converter on the board may explain "
    "the socket.": (
        "Prüfen Sie die Karte mit dem Treiber ihres Herstellers: Ein Wandler auf der "
        "Platine kann die Buchse erklären."
    ),
    "Plug in the PC's mains adapter, and test again.": (
        "Schließen Sie das Netzteil des PCs an, und prüfen Sie noch einmal."
    ),
    "Test again without --memory-limit.": (
        "Prüfen Sie noch einmal ohne --memory-limit."
    ),
    "Run the whole test again, to its end.": (
        "Lassen Sie die ganze Prüfung noch einmal bis zum Ende laufen."
    ),
    "Get the card to run under its maker's driver, and test it.": (
        "Bringen Sie die Karte mit dem Treiber ihres Herstellers zum Laufen, und "
        "prüfen Sie sie."
    ),
    "Read its firmware chip, and look at the read.": (
        "Lesen Sie ihren Firmware-Chip aus, und sehen Sie sich das Ausgelesene an."
    ),
    "Look at the card itself: chip, memory, sockets and plugs.": (
        "Sehen Sie sich die Karte selbst an: Chip, Speicher, Buchsen und Anschlüsse."
    ),
    "Let it cool, clean its cooler, see that air reaches it, and test again.": (
        "Lassen Sie die Karte abkühlen, reinigen Sie ihren Kühler, sorgen Sie für "
        "Luft, und prüfen Sie noch einmal."
    ),
    "See whether the fan turns freely and is plugged in, give a board without fans a "
    "stream of air, and test again.": (
        "Sehen Sie nach, ob sich der Lüfter frei dreht und angeschlossen ist, geben "
        "Sie einer Karte ohne Lüfter einen Luftstrom, und prüfen Sie noch einmal."
    ),
}


def article(name: str) -> str:
    """Return the name as it is: sentences bring their articles along."""
    return name


WORDING: Final = Wording(
    code="de",
    decimal=",",
    thousands=".",
    grouped_from=1_000,
    article=article,
    quotes=("„", "“"),
    verdict=VERDICT,
    page=PAGE,
    letter=LETTER,
    readme=README,
    rate="{rate}",
    ratio="{rate}, neben einfacher Genauigkeit",
    results="{rate}: Ergebnisse",
    rates=RATES,
    titles=TITLES,
    findings=FINDINGS,
    months=(
        *("Januar", "Februar", "März", "April", "Mai", "Juni", "Juli", "August"),
        *("September", "Oktober", "November", "Dezember"),
    ),
    day="{day}. {month} {year}",
    phrases=PHRASES,
    unchecked=UNCHECKED,
    settle=SETTLE,
)
