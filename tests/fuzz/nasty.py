"""Values that break programs: what a device, a driver, a file or a listing might hold.

Sources: control sequences of ECMA-48, bidirectional controls of Unicode Annex 9,
limits of IEEE 754 and of 64-bit integers, RFC 8259 on what JSON is not.
"""

STRINGS = (
    "",
    " ",
    "\x1b[31mred\x1b[0m\x1b]0;title\x07\x1b[2J",
    "\x9b31mC1 red\x9d0;title\x9c",
    "\x00\x01\x08\x7f",
    "line\r\nbreak\x0b\x0c\x1c\x1d\x1e\x85\u2028\u2029end",
    "\u202egnp.exe\u2066\u200b\u200d\ufeff",
    "</script><script>alert(1)</script><b>bold</b>",
    "\"'><img src=x onerror=alert(1)>",
    "]]></desc></svg><svg onload=x>",
    "<!--<![CDATA[<?x?>",
    "{{ 7 * 7 }}{% raw %}{# #}",
    "[red]not red[/red][/][link=file:///etc/passwd]x[/link]",
    "%s%n{0}{x!r}\\N{DEL}\\u202e",
    "../../../etc/passwd",
    "..\\..\\CON\\NUL:aux.txt",
    "/dev/zero",
    "~root/$HOME/`id`/$(id);id|id&&id",
    "file\n.name",
    "é" * 200,
    "e\u0301" * 200,
    "\U0001f469\u200d\U0001f52c\U000e0041\U0010ffff\ue000",
    "\ufffe\uffff\ufdd0",
    "&amp;&lt;&#60;&#x3c;",
    "https://example.com/x.js javascript:alert(1)",
    "NaN",
    "-1",
    "1e999",
    "0x1b81",
    "10de:1b81",
    "GeForce GTX 1070",
    "gfx1030:xnack-",
    "AMD Radeon RX 580 Series (radeonsi, polaris10, LLVM 15.0.7)",
    "GTX 1070 8GB",
    "(" * 300,
    "[" * 300,
    " ( ," * 300,
    "llvm " * 300,
    "(llvm" * 300,
    "1 " * 300,
    "9" * 300,
    "/pcie" * 300,
    "٣٤٥",
    "\u017f\u212a",
    "2026-11-25T12:00:00Z",
    "0001-01-01T00:00:00+23:59",
    "9999-12-31T23:59:59-23:59",
)
LONG = ("A" * 4096, " x" * 2048, "\u202e" * 4096, "é" * 4097, "<" * 4096, "B" * 10**6)
SURROGATES = ("\ud800", "\udcff\udc80", "a\udfffb")
"""Not to be had from UTF-8; file names and arguments may hold them."""

INTEGERS = (
    *(0, 1, -1, 2, 7, 8, 15, 16, 31, 32, 127, 128, 255, 256, 4095, 4096, 65535, 65536),
    *(2**20, 2**30, 2**31 - 1, 2**31, 2**32 - 1, 2**32, 2**53, 2**53 + 1),
    *(2**63 - 1, 2**63, 2**64 - 1, 2**64, -(2**63), -(2**63) - 1, 10**30, 10**4200),
)
FLOATS = (
    *(0.0, -0.0, 5e-324, 2.3e-308, 1e-30, 1e-9, 1e-3, 0.5, 1.0, 1.5, -1.5),
    *(1e3, 1e9, 1e15, 1e16, 9007199254740993.0, 1e18, 1e30, -1e30, 1e31, 1.8e308),
)

JSON = (
    b"NaN", b"Infinity", b"-Infinity", b"1e999", b"-1e999", b"1e-999", b"01", b"+1",
    b"1.", b".5", b"0x10", b"1_0", b"'x'", b"undefined", b"True", b"nul", b"",
    b'"\\ud800"', b'"\\udc00\\ud800"', b'"\\u0000"', b'"\\x41"', b'"\xff\xfe"',
    b'"\xed\xa0\x80"', b'"\xc0\x80"', b'"\xf4\x90\x80\x80"', b'"\x00"', b'"\n"',
    b'"\\u202e\\u009b31m"', b"[]", b"{}", b"[[]]", b'{"":{}}', b"[,]", b"{,}",
    b'{"a":1,"a":2}', b"/*x*/1", b"//x\n1", b"\xef\xbb\xbf1", b"1 1", b"9" * 400,
    b"9" * 4301, b"1" + b"0" * 5000, b"0." + b"1" * 5000, b"1e" + b"9" * 400,
    b"[" * 200, b"[" * 200 + b"]" * 200, b"[" * 30000, b'{"a":' * 30000,
    b"[" * 3000 + b"]" * 3000, b'{"a":' * 900 + b"1" + b"}" * 900,
)  # fmt: skip
"""Tokens that are no JSON, or JSON that is none of ours."""

TOML = (
    b"1" * 5000, b"-" + b"9" * 4301, b"0x" + b"f" * 5000, b"0o7", b"0b" + b"1" * 4000,
    b"1" + b"_1" * 3000, b"1e400", b"-1e400", b"inf", b"-nan", b"1.0e-400", b"00",
    b"true", b"[]", b"{}", b"[" * 300, b"[" * 300 + b"]" * 300, b"[" * 20000,
    b"{a=" * 300 + b"1" + b"}" * 300, b"{a=" * 20000, b"1979-05-27T07:32:00Z",
    b"2020-02-30", b"9999-12-31T23:59:60Z", b"0000-01-01", b"07:32:00.9999999999",
    b"1979-05-27T07:32:00.1+23:59", b'"\\ud800"', b'"\\UFFFFFFFF"', b'"\\u0000"',
    b'"\\uDFFF"', b'"\\x41"', b'"\xff"', b"'\x1b[31m'", b'"\\u001b[31m\\u202e"',
    b'"""\n' + b'"' * 9, b"'''x", b'"""\\\n   \n"""', b'"' + b"a" * 201 + b'"',
    b'"' + b"b" * 70000 + b'"', b"{a.b.c=1, a.b.c=2}", b"{a=1, a.b=2}", b"{x=1,}",
    b"9223372036854775807", b"9223372036854775808", b"-1", b"0", b"0.0", b"1e30",
    b"2147483648", b"4096.0", b"5e-324", b'["10de:1b81", "10de:1b81"]', b'["ti"]',
)  # fmt: skip
"""Values of keys: no TOML, or TOML of the wrong kind."""
TOML_LINES = (
    b"[card]", b"[[card]]", b"[[card.memory]]", b"[[card.memory.x]]", b"[sources.x]",
    b"[a]\n[a]", b"[[a]]\n[a]", b"a.b=1\n[a]", b"x" + b".x" * 30 + b" = 1",
    b"x" + b".x" * 900 + b" = 1", b"[x" + b".x" * 900 + b"]", b"[[card]] # x",
    b'"" = 1', b"'a'.\"b\".c = 1", b"# \xff", b"# \x00", b"\x00", b"\r", b"= 1", b"[",
    b"]", b"a", b"a =", b"a = 1 b = 2", b'"\\u0000" = 1', b"\xef\xbb\xbfa = 1",
    b"x" * 5000 + b" = 1", b"[[seen]]\nmodel='x'\nchip='x'\npci='10de:0000'",
)  # fmt: skip
MARKUP = (
    b"<!--", b"-->", b"<![CDATA[", b"]]>", b"<![foo", b"<!doctype", b"<?", b"</", b"<",
    b"<a", b"<a ", b'<a id="record"', b'<a id="record" href="', b"</a>",
    b"<a id=record ",
    b"href=", b'"', b"'", b">", b"&", b"&#x110000;", b"&quot;", b"\x00", b"\xff", b"\n",
    b'href="data:application/json;base64,', b"data:application/json;base64,",
    b'<a id="record" download="record.json" href="data:application/json;base64,e30=">',
    b"<script>", b"</script", b"<style>", b"<textarea>", b"<title>", b"<plaintext>",
    b"<svg>", b"<template>", b"=", b"==", b"%3D", b"%", b"\xed\xa0\x80",
)  # fmt: skip
