"""The ledger's tables as queries name them. What makes them is in `migrations.py`."""

from typing import Final

from sqlalchemy import (
    BigInteger,
    Boolean,
    Column,
    Float,
    Integer,
    LargeBinary,
    MetaData,
    Table,
    Text,
)

_META: Final = MetaData()

VERSION: Final = Table("ledger_version", _META, Column("version", Integer))
BOARD: Final = Table(
    "board",
    _META,
    Column("id", Integer, primary_key=True),
    Column("digest", Text),
    Column("pci_id", Text),
    Column("subsystem", Text),
    Column("facts", Text),
)
KIND: Final = Table(
    "kind",
    _META,
    Column("id", Integer, primary_key=True),
    Column("digest", Text),
    Column("label", Text),
    Column("model", Text),
    Column("chip", Text),
    Column("vendor", Text),
    Column("search", Text),
)
CARD: Final = Table(
    "card",
    _META,
    Column("id", Integer, primary_key=True),
    Column("number_sha256", Text),
    Column("stock_key", Text),
)
RECORD: Final = Table(
    "record",
    _META,
    Column("id", Integer, primary_key=True),
    Column("sha256", Text),
    Column("card_id", Integer),
    Column("kind_id", Integer),
    Column("board_id", Integer),
    Column("how", Text),
    Column("remark", Text),
    Column("stock_no", Text),
    Column("stock_key", Text),
    Column("bench", Text),
    Column("certified_by", Text),
    Column("started", Text),
    Column("added", Text),
    Column("outcome", Text),
    Column("depth", Text),
    Column("practice", Boolean),
    Column("interrupted", Boolean),
    Column("proven_bytes", BigInteger),
    Column("claimed_bytes", BigInteger),
    Column("seconds", Float),
    Column("sentence", Text),
)
DOCUMENT: Final = Table(
    "document",
    _META,
    Column("record_id", Integer, primary_key=True),
    Column("size_bytes", BigInteger),
    Column("packed", LargeBinary),
)
