"""Spanish."""

from typing import Final

from reports.evidence.wording import (
    LetterWords,
    PageWords,
    ReadmeWords,
    VerdictWords,
    Wording,
)

VERDICT: Final = VerdictWords(
    sold="Vendida como {what}.",
    sold_size="Vendida como {what} con {size}.",
    reported="Se identifica como {what}.",
    reported_size="Se identifica como {what} con {size}.",
    unnamed="tarjeta sin nombre",
    found="Se encontró: {found}.",
    chip="una tarjeta con el chip {what}",
    chip_size="una tarjeta con el chip {what} y {size} de memoria",
    model="{what}",
    memory="{size} de memoria que funciona",
    calls_itself="una tarjeta que dice ser {what}",
    instead="{measured} en lugar de {envelope}",
    pci_owner="un identificador PCI que corresponde a {what}",
    both="{one} y {other}",
    nothing_against="{size} de memoria que funciona y nada en contra",
    wrong_memory="memoria que devuelve datos erróneos",
    wrong_results="cálculos erróneos",
    not_false="Nada lo desmiente, pero tampoco se pudo confirmar.",
    doubtful="Dudoso, pero no desmentido.",
    none="La prueba no llegó a ninguna conclusión.",
    as_claimed="Coincide con lo declarado.",
    not_as_claimed="No coincide con lo declarado.",
    faulty="Defectuosa.",
    undetermined="Sin determinar.",
    not_and_faulty="No coincide con lo declarado y, además, es defectuosa.",
)

PAGE: Final = PageWords(
    title="Pruebas: {card}",
    wordmark="Dosier de pruebas",
    about="Este dosier",
    practice="PRÁCTICA: no se probó ninguna tarjeta real. Simulación: {condition}.",
    interrupted="La prueba se detuvo antes de terminar: solo se muestra lo que se "
    "averiguó hasta entonces.",
    judged_option="El modelo vendido se indicó al crear este dosier, y el registro se "
    "valoró de nuevo con ese dato; también se incluye el registro tal como se guardó.",
    judged_listing="El modelo vendido se tomó del texto del anuncio al crear este "
    "dosier ({claim}), y el registro se valoró de nuevo con ese dato; también se "
    "incluye el registro tal como se guardó.",
    not_held="El anuncio no se comparó con lo medido: su texto por sí solo no deja "
    "claro como qué se vendió la tarjeta. La conclusión se refiere a lo que la "
    "tarjeta dice de sí misma. Para que se valore según el anuncio, vuelva a crear "
    "este dosier con --claim MODELO y --claim-memory TAMAÑO.",
    other_models="El texto del anuncio nombra {models}; la tarjeta se valoró como "
    "{claim}.",
    said="Lo que dice el anuncio",
    said_note="Palabra por palabra; los caracteres que no se pueden mostrar aparecen "
    "como \N{REPLACEMENT CHARACTER}. SHA-256 del original:",
    cut="El texto se corta aquí: tiene {signs} caracteres, de los que se muestran los "
    "primeros {kept}.",
    from_page="Este es el texto que muestra la página guardada.",
    compared="Lo declarado y lo encontrado",
    fact="Característica",
    claimed="Declarado",
    found="Encontrado",
    genuine="Una auténtica muestra",
    more_rows="El informe (report.html, en inglés) contiene las {rows} comparaciones, "
    "con sus fuentes e imágenes.",
    findings="Lo encontrado, en palabras sencillas",
    findings_note="«Decisivo» significa: ninguna tarjeta auténtica de ese modelo puede "
    "hacer eso.",
    decisive="Decisivo",
    quoted="en palabras del informe, en inglés",
    photos="La tarjeta en fotos",
    photo="Foto {number}",
    shows={
        "die": "La inscripción del chip gráfico",
        "connectors": "Los conectores",
        "label": "La etiqueta",
        "box": "La caja",
    },
    photo_file="En el dosier como {file}, {width} × {height} píxeles.",  # noqa: RUF001 - the sign for it
    place_removed="El original contiene el lugar donde se tomó; se ha eliminado de "
    "esta copia.",
    no_place="En el original no se encontró el lugar donde se tomó.",
    place_unknown="No se pudo leer lo que anotó la cámara; nada de ello está en esta "
    "copia.",
    inspected="Esta foto se tuvo a la vista al examinar la tarjeta.",
    photos_note="Son copias sin nada de lo que anotó la cámara. Conserve los "
    "originales: sus valores SHA-256 figuran más abajo, y con ellos se puede "
    "demostrar que las copias proceden de ellos.",
    no_photos="Este dosier no contiene fotos. Las fotos de la inscripción del chip, "
    "de los conectores y de la etiqueta le dan más fuerza; se añaden con --photo.",
    untested="Lo que no se probó",
    not_read="El firmware: no se leyó su chip.",
    not_looked="La tarjeta misma: nadie examinó inscripciones, conectores ni chips de "
    "memoria.",
    not_soaked="Si la tarjeta aguanta una carga prolongada.",
    settle="Lo que lo aclararía",
    check="Cómo comprobarlo usted mismo",
    check_steps=(
        (
            "Descomprima el archivo zip. En Linux o en un Mac, `sha256sum -c "
            "hashes.txt` (o `shasum -a 256 -c hashes.txt`) compara cada archivo con "
            "su suma de comprobación; en Windows, `certutil -hashfile ARCHIVO SHA256` "
            "muestra la de un archivo."
        ),
        (
            "El registro contiene todo lo que se midió. `cardassay show record.json` "
            "lo muestra, `cardassay rejudge record.json` lo valora de nuevo."
        ),
        (
            "Lo más seguro: ponga la tarjeta en otro PC y ejecute allí `cardassay "
            "check`. El chip y la memoria son los mismos en cualquier PC."
        ),
    ),
    check_anew="El registro se valoró de nuevo según el anuncio: el así valorado es "
    "record-judged.json; record.json está tal como se guardó.",
    cautions="Tenga en cuenta",
    caution_lines=(
        (
            "El resultado vale para la tarjeta que se probó. Que sea la que se "
            "entregó debe mostrarse de otro modo: con fotos de la etiqueta y del "
            "paquete."
        ),
        (
            "La lentitud por sí sola no demuestra nada: el calor, la falta de "
            "corriente, un adaptador de ranura u otro programa frenan también a una "
            "tarjeta auténtica."
        ),
        (
            "Este dosier dice lo que se encontró, no cómo se llegó a ello ni quién lo "
            "sabía."
        ),
        (
            "El dosier no está firmado: vale tanto como la persona que lo hizo. Pero "
            "todo lo que contiene se puede comprobar en la tarjeta."
        ),
    ),
    caution_keep="Deje la tarjeta como está hasta que se resuelva el asunto: no la "
    "abra ni le grabe firmware.",
    caution_faulty="Una tarjeta defectuosa puede bloquear el PC: no la use para "
    "trabajos importantes.",
    letter="La carta",
    letter_note="Lista para enviar, también como letter.txt. Complete lo que está en "
    "blanco.",
    letter_law="Es una petición, no asesoramiento jurídico. Lo que un comprador puede "
    "reclamar, a quién y hasta cuándo, depende de la legislación local; una oficina de "
    "atención al consumidor la conoce.",
    no_letter_right="No hay carta de reclamación: la tarjeta es lo que se anunció.",
    no_letter_not_held="No hay carta: lo anunciado no se comparó con lo medido. "
    "Vuelva a crear este dosier con --claim MODELO y --claim-memory TAMAÑO.",
    hashes="Sumas de comprobación",
    hashes_note="SHA-256 de los archivos del zip; hashes.txt contiene también la de "
    "esta página.",
    hashes_photos="Los originales de las fotos no están en él; las suyas también "
    "figuran aquí.",
    file="Archivo",
    size="Tamaño",
    signs="SHA-256",
    original="el original de {file}",
    bytes="{size} bytes",
    save_record="Guardar el registro que lleva esta página",
    save_case="Guardar los datos del caso que lleva esta página",
    digest="El registro de esta página tiene el SHA-256",
    card="Tarjeta",
    tested="Probada",
    depth="Profundidad de la prueba",
    quick="rápida",
    standard="normal",
    thorough="exhaustiva",
    program="Programa",
    table="Tabla de tarjetas auténticas",
    made="Dosier creado",
    gib="GiB es el nombre exacto de la unidad que los anuncios llaman GB de memoria.",
)

LETTER: Final = LetterWords(
    to="Para: {value}",
    order="Número de pedido: {value}",
    bought="Fecha de compra: {value}",
    price="Precio pagado: {value}",
    date="Fecha: {value}",
    subject_not="Asunto: Tarjeta gráfica no conforme a la descripción; solicitud de "
    "devolución y reembolso",
    subject_faulty="Asunto: Tarjeta gráfica con un defecto; solicitud de devolución y "
    "reembolso",
    subject_open="Asunto: Tarjeta gráfica, resultado de la prueba aún pendiente",
    greeting="Buenos días:",
    offered="Le escribo por una tarjeta gráfica que compré. Se anunciaba como: "
    "{claim}.",
    offered_enclosed="Le escribo por una tarjeta gráfica que compré. Adjunto el texto "
    "del anuncio.",
    tested="El {day} la tarjeta se probó con cardassay {version}, un programa que lee "
    "lo que la tarjeta dice de sí misma y después la mide. El resultado:",
    found="En detalle:",
    open="Queda por resolver:",
    facts_only="Esto es lo que se constató en la tarjeta. No indica cómo se llegó a "
    "ello ni quién lo sabía.",
    facts_only_faulty="Esto es lo que se constató en la tarjeta. No indica de dónde "
    "viene el defecto.",
    facts_only_open="La prueba no pudo aclarar si la tarjeta es lo que se anunció. "
    "Aquí no se afirma nada más.",
    ask="Solicito que se acepte la devolución de la tarjeta y se reembolse el precio. "
    "Por favor, indíqueme cómo debo enviarla. Hasta entonces dejo la tarjeta como "
    "está.",
    ask_nothing="De momento solo pido que se mantenga abierto el caso hasta que otra "
    "prueba lo aclare.",
    enclosed="Adjunto un archivo zip con el texto del anuncio, el registro de la "
    "prueba y las sumas de comprobación de todos los archivos. Quien dude del "
    "resultado puede repetir la prueba en la tarjeta con el mismo programa.",
    enclosed_photos="Adjunto un archivo zip con el texto del anuncio, fotos de la "
    "tarjeta, el registro de la prueba y las sumas de comprobación de todos los "
    "archivos. Quien dude del resultado puede repetir la prueba en la tarjeta con el "
    "mismo programa.",
    closing="Atentamente,",
    practice="PRÁCTICA: no se probó ninguna tarjeta real. No enviar.",
    read="El {day} se leyó con cardassay {version} lo que la tarjeta dice de sí "
    "misma. No se midieron ni su memoria ni su velocidad. El resultado:",
    enclosed_photo="Adjunto un archivo zip con el texto del anuncio, una foto de la "
    "tarjeta, el registro de la prueba y las sumas de comprobación de todos los "
    "archivos. Quien dude del resultado puede repetir la prueba en la tarjeta con el "
    "mismo programa.",
)

README: Final = ReadmeWords(
    head="Qué contiene este dosier",
    page="la página: conclusión, comparación, fotos, carta; se abre en cualquier "
    "navegador",
    letter="la carta al vendedor o a la plataforma, como texto sin formato",
    report="el informe completo de la prueba, con imágenes (en inglés)",
    record="el registro de la prueba, tal como se guardó",
    judged="el mismo registro, valorado de nuevo según lo anunciado",
    listing="las palabras del anuncio",
    case="de qué se hizo este dosier, para programas",
    photo="una foto de la tarjeta, sin nada de lo que anotó la cámara",
    hashes="SHA-256 de todos los demás archivos",
    check="Para comprobar los archivos: `sha256sum -c hashes.txt` (Linux), `shasum -a "
    "256 -c hashes.txt` (Mac), `certutil -hashfile ARCHIVO SHA256` (Windows, un "
    "archivo).",
    without="No se incluyen: lugares, números de serie ni otras anotaciones de la "
    "cámara, nombres de carpetas ni del PC. Lo que la carta dice del pedido y de "
    "nombres se indicó para ella.",
    look="Revíselo todo antes de enviarlo: el texto del anuncio, los nombres de la "
    "carta y las fotos pueden revelar más de lo que usted desea. El registro indica "
    "el sistema operativo del PC y el tamaño de su memoria, y las fotos de un examen "
    "por el nombre de sus archivos.",
)

FINDINGS: Final = {
    "memory-bits/mirrored": "La tarjeta declara {claim} de memoria. Solo existen "
    "{proven}: el resto es esa misma memoria otra vez, de modo que lo que se escribe "
    "en un lugar aparece también en otro.",
    "memory-bits/hollow": "La tarjeta declara {claim} de memoria. Solo existen "
    "{proven}: detrás del resto no hay memoria.",
    "memory-bits/both": "La tarjeta declara {claim} de memoria. Solo existen "
    "{proven}: una parte del resto es esa misma memoria otra vez, y detrás de otra no "
    "hay memoria.",
    "memory-bits/blocks": "La tarjeta declara {claim} de memoria. Solo responden "
    "{proven}: bloques enteros del resto no devuelven nada de lo que se escribió en "
    "ellos.",
    "memory-bits/fault": "La memoria devuelve algo distinto de lo que se escribió en "
    "ella: {measured}.",
    "memory-bits/agrees": "Cada celda probada conservó lo que se escribió en ella: "
    "{measured}.",
    "proven-capacity/contradicts": "De {claim} de memoria solo se pudieron comprobar "
    "{measured}.",
    "proven-capacity/spilled": "De {claim} de memoria solo se pudieron comprobar "
    "{measured} en la tarjeta; para otra parte el controlador usó la memoria del PC.",
    "proven-capacity/agrees": "Se comprobó que existen {measured} de {claim} de "
    "memoria.",
    "proven-capacity/open": "De {claim} de memoria solo se probaron {measured}.",
    "spilled-memory/open": "Para una parte de la memoria el controlador usó la del PC "
    "({measured}): eso no demuestra nada sobre la tarjeta.",
    "reported-model/contradicts": "La tarjeta se vendió como {claim}, pero ella misma "
    "dice ser {measured}.",
    "reported-model/agrees": "La tarjeta dice ser {measured}, tal como se vendió.",
    "names-agree/contradicts": "La tarjeta tiene nombres distintos según dónde se "
    "lea: {claim} y {measured}. No pueden ser ciertos los dos.",
    "pci-id/contradicts": "Su identificador PCI {id} corresponde a {owner}; una "
    "{model} lleva otro.",
    "silicon-id/contradicts": "El propio chip se identifica como {owner}; una {model} "
    "lleva otro.",
    "sibling-function/contradicts": "Otra función de la tarjeta ({id}) pertenece al "
    "chip {owner}; una {model} lleva otro.",
    "compute-capability/contradicts": "La generación de su chip (compute capability) "
    "es {measured}; en una {model} es {envelope}.",
    "compute-capability/agrees": "La generación de su chip (compute capability) es "
    "{measured}, como en una {model}.",
    "gfx-target/contradicts": "El controlador compila para {measured}; para una "
    "{model} sería {envelope}.",
    "compute-units/contradicts": "El controlador cuenta {measured}; una {model} tiene "
    "{envelope}.",
    "compute-units/agrees": "El controlador cuenta {measured}, como en una {model}.",
    "lane-count/contradicts": "El controlador cuenta {measured}; una {model} tiene "
    "{envelope}.",
    "lane-count/agrees": "El controlador cuenta {measured}, como en una {model}.",
    "counted-units/contradicts": "En el chip mismo trabajan a la vez {measured}; una "
    "{model} tiene {envelope}. Ni el controlador ni el firmware influyen en este "
    "recuento.",
    "told-units/contradicts": "El controlador indica {claim} unidades, pero a la vez "
    "trabajan {measured}.",
    "lane-cycles/contradicts": "Las unidades aritméticas por los ciclos de un paso dan "
    "{measured}; en una {model} son {envelope}, a cualquier frecuencia. Es otra "
    "generación de chips.",
    "warp-width/contradicts": "{measured} elementos de trabajo avanzan juntos; en una "
    "{model} son {envelope}.",
    "measured-chip/contradicts": "Todo lo medido en conjunto corresponde al chip "
    "{chip}; una {model} lleva otro.",
    "own-word/contradicts": "Lo que la tarjeta dice de sí misma no corresponde a su "
    "chip, un {chip}.",
    "bus-width/contradicts": "Su bus de memoria es de {measured}; en una {model} es de "
    "{envelope}.",
    "bus-width/agrees": "Su bus de memoria es de {measured}, como en una {model}.",
    "listing-memory/contradicts": "La tarjeta se vendió con {claim}, pero declara "
    "{measured}.",
    "listing-memory/agrees": "La tarjeta se vendió con {claim} y declara {measured}.",
    "memory-size/contradicts": "La tarjeta declara {claim}; una {model} se fabricó con "
    "{envelope}.",
    "memory-size/agrees": "La tarjeta declara {claim}, un tamaño con el que se fabricó "
    "la {model}.",
    "rate/contradicts": "{rate}: se midieron {measured}; una auténtica alcanza "
    "{envelope}. La lentitud por sí sola nunca decide.",
    "rate/more": "Otras velocidades demasiado bajas: {count}.",
    "ratio/contradicts": "{rate}: se midieron {measured}; en una auténtica son "
    "{envelope}, a cualquier frecuencia.",
    "results/fault": "La tarjeta comete errores de cálculo: {rate}, {measured}.",
    "memory-results/fault": "No todo lo que se leyó de vuelta era como se había "
    "escrito: {rate}, {measured}.",
    "soak-results/fault": "Bajo carga prolongada la tarjeta calcula mal.",
    "memory-soak/fault": "Bajo carga prolongada la memoria devuelve datos erróneos.",
    "other-card/open": "Lo medido corresponde igualmente a una {measured}.",
    "lesser-memory/open": "De {claim} de memoria solo se alcanzaron {measured}, y el "
    "mismo chip se vendió también con menos.",
    "crash-place/contradicts": "La prueba se interrumpió cada vez que se usó memoria "
    "por encima de {place} (de {whole}); toda la que está por debajo conservó sus "
    "datos.",
    "guarded/open": "La prueba se detuvo para que la tarjeta no sufriera daños.",
    "model-known/open": "La tabla de tarjetas auténticas no conoce {claim}.",
    "eye-die-marking/contradicts": "El chip lleva la inscripción {marking}: es un "
    "{owner}; una {model} lleva otro.",
    "eye-power-plugs/contradicts": "Una {model} consume {claim}; la ranura y los "
    "conectores de esta tarjeta ({measured}) no pueden darlos.",
    "eye-memory-size/contradicts": "Los chips de memoria de la tarjeta suman "
    "{measured}; lo correcto serían {claim}.",
    "eye-bus-width/contradicts": "Los chips de memoria de la tarjeta forman un bus de "
    "{measured} como máximo; en una {model} es de {envelope}.",
    "eye-analog-output/contradicts": "La tarjeta tiene una salida analógica "
    "({measured}); el chip de una {model} no puede controlarla por sí solo.",
    "proven-capacity/refused": "De {claim} de memoria el controlador solo cedió "
    "{measured} para la prueba. El resto no se pudo probar.",
    "pci-id/other-maker": "Su identificador PCI {id} es el de una tarjeta de otro "
    "fabricante, no el de una {model}.",
    "firmware-version/contradicts": "Su firmware {id} es del tipo hecho para el chip "
    "{owner}; una {model} lleva otro chip.",
}

PHRASES: Final = {
    "every cell keeps its own data": "cada celda conserva sus propios datos",
    "silicon and word of one card": "chip y datos de una misma tarjeta",
    "no other card fits as well": "ninguna otra tarjeta corresponde igual",
    "a test that runs to its end": "una prueba que llega a su fin",
    "a test that can run to its end": "una prueba que puede llegar a su fin",
    "one name in all layers": "el mismo nombre en todas partes",
    "all of it can be used": "toda se puede usar",
    "all of it on the card": "toda en la tarjeta",
    "in the PC's memory": "en la memoria del PC",
    "another maker's card": "una tarjeta de otro fabricante",
    "not in the table": "no está en la tabla",
    "no power connector": "ningún conector de corriente",
    "of working memory": "de memoria que funciona",
    "streaming multiprocessors": "unidades de cómputo",
    "streaming multiprocessor": "unidad de cómputo",
    "compute units": "unidades de cómputo",
    "compute unit": "unidad de cómputo",
    "Xe cores": "núcleos Xe",
    "Xe core": "núcleo Xe",
    "digital outputs": "salidas digitales",
    "results wrong": "resultados erróneos",
    "none wrong": "ninguno erróneo",
    "of the cells": "de las celdas",
    "by its model": "según su modelo",
    "not said": "no indicado",
    "variants in the table": "variantes en la tabla",
    "variant in the table": "variante en la tabla",
    "all of one variant": "todo de una sola variante",
    "cut off at": "interrumpida a los",
    "chips of": "chips de",
    "chip of": "chip de",
    "of fp32": "de fp32",
    "at least": "al menos",
    "answered": "respondieron",
    "work-groups": "grupos de trabajo",
    "work-group": "grupo de trabajo",
    "lanes and": "unidades aritméticas y",
    "lanes": "unidades aritméticas",
    "bits": "bits",
    "cells": "celdas",
    "cell": "celda",
    "others": "otros",
    "with": "con",
    "and": "y",
    "for": "para",
    "of": "de",
    "or": "o",
    "to": "a",
    "T op/s": "billones de op./s",
    "G op/s": "mil millones de op./s",
}

TITLES: Final = {
    "memory-bits": "Memoria que funciona",
    "proven-capacity": "Memoria comprobada",
    "spilled-memory": "Memoria tomada del PC",
    "memory-size": "Tamaño de la memoria",
    "listing-memory": "Memoria según el anuncio",
    "memory-soak": "Memoria bajo carga prolongada",
    "reported-model": "Modelo que declara",
    "names-agree": "Nombres en todas partes",
    "model-known": "Modelo",
    "pci-id": "Identificador PCI",
    "silicon-id": "Número del propio chip",
    "sibling-function": "Otras funciones",
    "compute-capability": "Compute capability",
    "gfx-target": "Destino de compilación",
    "compute-units": "Unidades de cómputo",
    "lane-count": "Unidades aritméticas",
    "counted-units": "Unidades contadas",
    "told-units": "Unidades declaradas",
    "lane-cycles": "Unidades por ciclos",
    "warp-width": "Elementos que avanzan juntos",
    "resident-groups": "Grupos por unidad",
    "measured-chip": "Chip medido",
    "own-word": "Lo que dice de sí misma",
    "bus-width": "Bus de memoria",
    "other-card": "Otra tarjeta",
    "lesser-memory": "Menos memoria",
    "one-variant": "Una sola variante",
    "too-fast": "Demasiado rápida",
    "crash-place": "Lugar del corte",
    "cut-off": "Corte",
    "guarded": "Apta para la prueba",
    "graphics-card": "Tipo de dispositivo",
    "heat": "Calor",
    "soak": "Carga prolongada",
    "soak-results": "Resultados bajo carga prolongada",
    "rate-kept": "Velocidad bajo carga prolongada",
    "firmware-version": "Versión del firmware",
    "firmware-image": "Contenido del firmware",
    "driver-package": "Paquete del controlador",
    "analog-output": "Salida analógica",
    "link-maximum": "Enlace más rápido",
    "eye-die-marking": "Inscripción del chip",
    "eye-analog-output": "Conector analógico",
    "eye-power-plugs": "Conectores de corriente",
    "eye-memory-size": "Chips de memoria, tamaño",
    "eye-bus-width": "Chips de memoria, bus",
    "eye-memory-proven": "Chips de memoria y comprobación",
    "eye-contacts": "Conector de borde",
    "eye-label": "Etiqueta",
}

RATES: Final = {
    "fp32": "Precisión simple (fp32)",
    "fp64": "Precisión doble (fp64)",
    "fp16": "Media precisión (fp16)",
    "int32": "Números enteros (int32)",
    "transcendental": "Potencias de dos (exp2)",
    "memory_read": "Memoria, lectura",
    "memory_write": "Memoria, escritura",
    "memory_copy": "Memoria, copia",
    "local_memory": "Memoria local",
    "link_up": "Enlace, del PC a la tarjeta",
    "link_down": "Enlace, de la tarjeta al PC",
}

UNCHECKED: Final = {
    "The listing: what the card was sold as was not told.": "El anuncio: no se indicó "
    "como qué se vendió la tarjeta.",
    "OpenCL's word: the compute driver said nothing of the card.": "Lo que dice "
    "OpenCL: el controlador de cómputo no dijo nada de la tarjeta.",
    "NVML's word: NVIDIA's management library said nothing of the card.": "Lo que dice "
    "NVML: la biblioteca de gestión de NVIDIA no dijo nada de la tarjeta.",
    "The PCI ids: the system did not show them.": "Los identificadores PCI: el sistema "
    "no los mostró.",
    "The memory's real size.": "El tamaño real de la memoria.",
    "Its units, its arithmetic and the speed of its memory.": "Sus unidades de "
    "cómputo, su aritmética y la velocidad de su memoria.",
    "Its firmware: no read of the chip was given.": "Su firmware: no se leyó el chip.",
    "The card itself: nobody looked at it.": "La tarjeta misma: nadie la examinó.",
    "Heat, clocks and power: no sensors were read.": "Temperatura, frecuencias y "
    "consumo: no se leyó ningún sensor.",
    "Half precision (fp16): its driver offers no fp16 (cl_khr_fp16).": "Media "
    "precisión (fp16): su controlador no ofrece fp16 (cl_khr_fp16).",
}

SETTLE: Final = {
    "Choose the graphics card itself from the list of cards.": (
        "Elija en la lista de tarjetas la propia tarjeta gráfica."
    ),
    "Name the model with --claim as its box prints it, or give the maker's figures "
    "for it in a file with --reference.": (
        "Indique el modelo con --claim tal como figura en la caja, o los datos del "
        "fabricante en un archivo con --reference."
    ),
    "Read the chip's marking, or use the maker's own driver.": (
        "Lea la inscripción del chip o use el controlador del propio fabricante."
    ),
    "Install the maker's own driver afresh and test again.": (
        "Vuelva a instalar el controlador del propio fabricante y repita la prueba."
    ),
    "Read the firmware and the chip's marking.": (
        "Lea el firmware y la inscripción del chip."
    ),
    "Test without settings that override the compiler's target.": (
        "Repita la prueba sin ajustes que cambien el destino de compilación."
    ),
    "Install the maker's own driver and test again.": (
        "Instale el controlador del propio fabricante y repita la prueba."
    ),
    "Close every other program, and test again.": (
        "Cierre todos los demás programas y repita la prueba."
    ),
    "Let the card cool, close other programs, and test again.": (
        "Deje enfriar la tarjeta, cierre otros programas y repita la prueba."
    ),
    "Read the chip's marking, under its cooler.": (
        "Lea la inscripción del chip, debajo del disipador."
    ),
    "Install the maker's own driver afresh, and read the chip's marking.": (
        "Vuelva a instalar el controlador del propio fabricante y lea la inscripción "
        "del chip."
    ),
    "Close other programs and run the whole test at standard depth, so that units, "
    "caches and every rate are measured; else read the chip's marking.": (
        "Cierre otros programas y ejecute la prueba completa con profundidad normal, "
        "para que se midan las unidades, las cachés y todas las velocidades; si no, "
        "lea la inscripción del chip."
    ),
    "Test with a newer driver or on a 64-bit system, so that all its memory is "
    "shown; else look at the memory chips.": (
        "Repita la prueba con un controlador más reciente o en un sistema de 64 bits, "
        "para que se vea toda la memoria; si no, examine los chips de memoria."
    ),
    "Ask what size the card was sold with, and test again.": (
        "Pregunte con cuánta memoria se vendió la tarjeta y repita la prueba."
    ),
    "Look at the memory chips: their marking gives each one's size.": (
        "Examine los chips de memoria: su inscripción indica el tamaño de cada uno."
    ),
    "Test again, at greater depth and with another driver.": (
        "Repita la prueba con mayor profundidad y con otro controlador."
    ),
    "Let it cool, and test again with a longer --soak.": (
        "Deje enfriar la tarjeta y repita la prueba con un --soak más largo."
    ),
    "Close other programs, forbid the driver to fall back on the PC's memory, and "
    "test again.": (
        "Cierre otros programas, impida que el controlador recurra a la memoria del "
        "PC y repita la prueba."
    ),
    "Close other programs, unplug the display from this card, and test again.": (
        "Cierre otros programas, desconecte la pantalla de esta tarjeta y repita la "
        "prueba."
    ),
    "Install the maker's own driver afresh, and test again with nothing else "
    "running; look at the memory chips: their marking gives each one's size.": (
        "Vuelva a instalar el controlador del propio fabricante y repita la prueba "
        "sin nada más en marcha; examine los chips de memoria: su inscripción indica "
        "el tamaño de cada uno."
    ),
    "Install the maker's own driver, test again, and read the chip's marking.": (
        "Instale el controlador del propio fabricante, repita la prueba y lea la "
        "inscripción del chip."
    ),
    "Test again, and read the chip's marking: nothing it says of itself can be "
    "right.": (
        "Repita la prueba y lea la inscripción del chip: nada de lo que la tarjeta "
        "dice de sí puede ser cierto."
    ),
    "Let the card cool, close other programs, put it into a full-length slot with "
    "all its power plugs, and test again.": (
        "Deje enfriar la tarjeta, cierre otros programas, póngala en una ranura de "
        "longitud completa con todos sus conectores de corriente y repita la prueba."
    ),
    "Test again, with another driver.": ("Repita la prueba con otro controlador."),
    "Test again with nothing else running.": (
        "Repita la prueba sin nada más en marcha."
    ),
    "Test again outside a virtual machine, and read the chip's marking.": (
        "Repita la prueba fuera de una máquina virtual y lea la inscripción del chip."
    ),
    "Read the chip's marking: firmware may be another card's.": (
        "Lea la inscripción del chip: el firmware puede ser de otra tarjeta."
    ),
    "Read the firmware chip itself, and the chip's marking.": (
        "Lea el propio chip de firmware y la inscripción del chip gráfico."
    ),
    "Have a second person read the die's marking, and photograph it.": (
        "Pida a otra persona que lea la inscripción del chip y fotografíela."
    ),
    "Count the memory chips on both sides again, and look their part number up with "
    "their maker.": (
        "Cuente de nuevo los chips de memoria de ambas caras y busque su número de "
        "pieza en la documentación del fabricante."
    ),
    "Count the memory chips on both sides again.": (
        "Cuente de nuevo los chips de memoria de ambas caras."
    ),
    "Look at all edges of the board for power connectors.": (
        "Busque conectores de corriente en todos los bordes de la placa."
    ),
    "Test the card under its maker's driver: a converter on the board may explain "
    "the socket.": (
        "Pruebe la tarjeta con el controlador de su fabricante: un convertidor en la "
        "placa puede explicar el conector."
    ),
    "Plug in the PC's mains adapter, and test again.": (
        "Enchufe el adaptador de corriente del PC y repita la prueba."
    ),
    "Test again without --memory-limit.": ("Repita la prueba sin --memory-limit."),
    "Run the whole test again, to its end.": (
        "Repita la prueba completa, hasta el final."
    ),
    "Get the card to run under its maker's driver, and test it.": (
        "Haga funcionar la tarjeta con el controlador de su fabricante y pruébela."
    ),
    "Read its firmware chip, and look at the read.": (
        "Lea su chip de firmware y examine lo leído."
    ),
    "Look at the card itself: chip, memory, sockets and plugs.": (
        "Examine la tarjeta misma: chip, memoria, conectores y enchufes."
    ),
    "Let it cool, clean its cooler, see that air reaches it, and test again.": (
        "Deje enfriar la tarjeta, limpie su disipador, compruebe que le llega aire y "
        "repita la prueba."
    ),
    "See whether the fan turns freely and is plugged in, give a board without fans a "
    "stream of air, and test again.": (
        "Compruebe que el ventilador gira libremente y está conectado, dé una "
        "corriente de aire a una tarjeta sin ventiladores y repita la prueba."
    ),
}


def article(name: str) -> str:
    """Return the name as it is: sentences bring their articles along."""
    return name


WORDING: Final = Wording(
    code="es",
    decimal=",",
    thousands="\N{NO-BREAK SPACE}",
    grouped_from=10_000,
    article=article,
    quotes=("«", "»"),
    verdict=VERDICT,
    page=PAGE,
    letter=LETTER,
    readme=README,
    rate="{rate}",
    ratio="{rate}, frente a la precisión simple",
    results="{rate}: resultados",
    rates=RATES,
    titles=TITLES,
    findings=FINDINGS,
    months=(
        *("enero", "febrero", "marzo", "abril", "mayo", "junio", "julio", "agosto"),
        *("septiembre", "octubre", "noviembre", "diciembre"),
    ),
    day="{day} de {month} de {year}",
    phrases=PHRASES,
    unchecked=UNCHECKED,
    settle=SETTLE,
)
