"""What a listing's words offer: one model beyond doubt, or none at all.

Models and sizes as the makers' own names print them; listings are invented.
"""

import time

import pytest

from reference.sold import offered

GIB = 2**30

OFFERS = {
    "GeForce GTX 1070 8GB GDDR5, like new": ("GeForce GTX 1070", 8),
    "Grafikkarte Nvidia GTX1070 8 GB OC 256bit PCI-E 3.0": ("GeForce GTX 1070", 8),
    "ExampleBrand GTX 1070 Ti Gaming 8G": ("GeForce GTX 1070 Ti", 8),
    "RTX 4070 Ti Super 16GB": ("GeForce RTX 4070 Ti SUPER", 16),
    "GTX 1050 Ti 4GB, 128 GB/s, 7 Gbps": ("GeForce GTX 1050 Ti", 4),
    "GTX 1070 D5 8192MB": ("GeForce GTX 1070", 8),
    "se vende GTX 1070 se entrega en mano, 8 GiB": ("GeForce GTX 1070", 8),
    "RX 580, 8GB": ("Radeon RX 580", 8),
    "GTX 1070, nothing of memory": ("GeForce GTX 1070", None),
    "GTX 1070 8GB (the PC had 16GB)": ("GeForce GTX 1070", None),
}


@pytest.mark.parametrize("text", OFFERS)
def test_one_model_is_found_with_its_size(table, text):
    model, size = OFFERS[text]
    found = offered(text, table)
    assert found.model == model
    assert found.memory_bytes == (None if size is None else size * GIB)


@pytest.mark.parametrize(
    "text",
    [
        "faster than a GTX 1080! GTX 1070 8GB",
        "GTX 1070 or GTX 1060 6GB, your choice",
        "RTX 3060 Laptop 6GB",
        "GTX 1070 Max-Q",
        "RX 580 8GB 2048SP",
        "GTX 1070 SE 8GB",
        "graphics card, 8GB, works",
        "1070 8GB",
        "GP104 8GB",
        "",
    ],
)
def test_where_words_leave_a_doubt_nothing_is_taken(table, text):
    assert offered(text, table).model is None


def test_all_models_that_are_named_are_told(table):
    found = offered("GTX 1080, no: GTX 1070", table)
    assert found.models == ("GeForce GTX 1080", "GeForce GTX 1070")


def test_every_model_of_the_table_is_found_by_its_own_name(table):
    """But for names like `A2` alone, which are paper sizes as well."""
    lost = [
        model
        for model in sorted({row.model for row in table.variants})[::5]
        if any(sign.isdigit() for sign in model)
        and model not in offered(f"For sale: {model}, used", table).models
    ]
    assert all(len(model) < 4 for model in lost)
    assert offered("For sale: NVIDIA A2, used", table).model == "A2"
    assert offered("printed on A2", table).model is None


def test_a_long_text_is_read_in_proportion(table):
    before = time.process_time()
    offered("GTX 10 aa 8 GB " * 100_000, table)
    assert time.process_time() - before < 2.0
