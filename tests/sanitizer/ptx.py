"""The PTX of an OpenCL driver made loadable by CUDA's driver; text in, text out.

Both take the same language (NVIDIA, Parallel Thread Execution ISA). What OpenCL's
driver sets up by its own means is written into the text instead:

- The registers `%envreg`, whose meaning the ISA leaves to the driver. Seen in its PTX:
  0 to 2 are added to the number of the group (a launch given in parts), 3 to 5 to that
  of the work-item (the global offset), 6 to 8 stand where the number of groups is
  meant. A replayed launch is whole and has no offset: 0, 0 and `%nctaid`. Any other
  one is refused.
- A `__local` argument is a place in shared memory, chosen at the launch. A shared array
  of the launch's own size stands in, in a copy of the text for each size: the tools
  then know its bounds. The argument stays, as a number that nobody reads: CUDA's driver
  refuses a whole program (CUDA_ERROR_INVALID_IMAGE) for one declared `.ptr .shared`.
- `texmode_independent`, in which OpenCL's samplers live: there is none in our kernels.
- The section of metadata at the end, which repeats attributes of kernels: left out.

The instructions are not touched otherwise.
"""

import re

SHELF = "local_argument"
_OFFSET = re.compile(r"(\bmov\.[bu]32\s+%\w+,\s*)%envreg[0-5]\b")
_GROUPS = re.compile(r"(\bmov\.[bu]32\s+%\w+,\s*)%envreg([678])\b")
_METADATA = re.compile(
    r"^\.metadata_section \{.*^\} // end of \.metadata_section$",
    re.MULTILINE | re.DOTALL,
)
_TARGET = re.compile(r"^(\.target\s+\w+),\s*texmode_independent\b", re.MULTILINE)
_SHARED = re.compile(
    r"(\.param\s+\.[bu](?:32|64)\s+)\.ptr\s+\.shared\s+\.align\s+\d+\s+"
)
_SIZE = re.compile(r"^\.address_size\s+\d+.*$", re.MULTILINE)


def adapted(text: str, kernel: str = "", index: int = 0, local_bytes: int = 0) -> str:
    """Return PTX for CUDA, `local_bytes` behind the argument `index` of a kernel.

    Raises ValueError for what it does not know.
    """
    text = _TARGET.sub(r"\1", text.rstrip("\0"))
    text = _METADATA.sub("", text)
    text = _OFFSET.sub(r"\g<1>0", text)
    text = _GROUPS.sub(lambda m: f"{m[1]}%nctaid.{'xyz'[int(m[2]) - 6]}", text)
    text = _SHARED.sub(r"\1", text)
    if local_bytes:
        text = _with_shelf(text, kernel, index, local_bytes)
    left = re.search(r"%envreg\d+|\.(?:samplerref|texref)\b", text)
    if left is not None:
        raise ValueError(f"the driver's PTX uses {left[0]}: unknown here")
    return text


def _with_shelf(text: str, kernel: str, index: int, local_bytes: int) -> str:
    load = re.compile(
        rf"\bld\.param\.([bu])(32|64)(\s+%\w+,\s*)\[{kernel}_param_{index}\]"
    )
    text, count = load.subn(rf"mov.u\2\3{SHELF}", text)
    if not count:
        raise ValueError(f"{kernel}: its local argument {index} is never read")
    head = _SIZE.search(text)
    if head is None:
        raise ValueError("no PTX: it does not say how wide addresses are")
    declared = f"\n.shared .align 16 .b8 {SHELF}[{local_bytes}];\n"
    return text[: head.end()] + declared + text[head.end() :]
