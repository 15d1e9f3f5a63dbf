"""Where the thresholds of uses are from: what was read, where, on which day.

Sources alone; the figures that follow from them stand in `use_needs.py` and
`use_drivers.py`. A page that only retells its maker's word says so in its address.
"""

from typing import Final

from reports.base import Base, Text


class Published(Base, frozen=True, kw_only=True):
    """A source of a threshold."""

    title: Text
    publisher: Text
    at: Text
    """Address, or where it was found retold."""
    states: Text
    read: Text | None = "2026-11-26"
    """Day; None: from memory."""

    @property
    def line(self) -> str:
        when = f"read {self.read}" if self.read else "from memory"
        return f"{self.publisher}, {self.title}: {self.states} ({self.at}; {when})"


SOURCES: Final[dict[str, Published]] = {
    "photos": Published(
        title="user manual 4.0, memory & performance tuning",
        publisher="darktable",
        at="docs.darktable.org",
        states=(
            "20 megapixels take about 300 MB, processing at least two such buffers, "
            "600 MB to 3 GB in all"
        ),
    ),
    "drawing": Published(
        title="system requirements for AutoCAD 2023 and 2025",
        publisher="Autodesk",
        at="retold at canadacad.ca and elsewhere",
        states="1 GB and 29 GB/s, recommended 4 GB and 106 GB/s",
    ),
    "editing": Published(
        title="technical requirements of its video programs",
        publisher="Adobe",
        at="a copy of 2020 and pages that retell later ones",
        states="2 GB at least; recommended 4 GB for HD, 6 GB for 4K",
    ),
    "scenes": Published(
        title="requirements",
        publisher="Blender",
        at="blender.org/download/requirements; for versions 2.8 and 2.9 a handbook "
        "printed 1 GB and 4 GB",
        states="2 GB, recommended 8 GB",
        read=None,
    ),
    "rendered": Published(
        title="manual, Cycles, GPU rendering",
        publisher="Blender",
        at="docs.blender.org/manual",
        states=(
            "NVIDIA of compute capability 5.0 and higher, AMD from RDNA 1 on, Intel "
            "from Xe-HPG on"
        ),
    ),
    "motion-hd": Published(
        title="PlayStation 4, specifications of 2013",
        publisher="Sony",
        at="retold at gameinformer.com and accesswinnipeg.com",
        states="8 GB, 176 GB/s, 1.84 TFLOP/s, pictures up to 1080p",
    ),
    "motion-qhd": Published(
        title="Xbox Series S, specifications of 2020",
        publisher="Microsoft",
        at="retold at community.microcenter.com",
        states="8 GB at 224 GB/s, 4 TFLOP/s, made for 1440p",
    ),
    "motion-uhd": Published(
        title="Xbox Series X, specifications of 2020",
        publisher="Microsoft",
        at="retold at geeky-gadgets.com",
        states="10 GB at 560 GB/s, 12.155 TFLOP/s, made for 4K at 60 pictures a second",
    ),
    "rated": Published(
        title="FluidX3D README, table of devices, 2026-07-14",
        publisher="M. Lehmann",
        at="github.com/ProjectPhysX/FluidX3D",
        states="of the rated speed of memory, the middle one of 148 reaches 0.75",
    ),
    "room": Published(
        title="Transformer Math 101",
        publisher="EleutherAI",
        at="retold by Hugging Face, model memory estimator",
        states="up to 20 % beside the weights",
    ),
    "reading": Published(
        title="How many words do we read per minute?, 2019",
        publisher="Marc Brysbaert, Journal of Memory and Language 109",
        at="doi.org/10.1016/j.jml.2019.104047",
        states="238 words a minute",
    ),
    "tokens": Published(
        title="What are tokens and how to count them?",
        publisher="OpenAI",
        at="help.openai.com",
        states="100 tokens are about 75 words",
    ),
    "pictures": Published(
        title="measured memory of a latent diffusion pipeline, collated results",
        publisher="Hugging Face, sayakpaul/sample-datasets",
        at="huggingface.co",
        states="8.961 GiB in 16 bit, 7.866 GiB with 8-bit weights",
    ),
    "parts": Published(
        title="Optimum SDXL Usage, of December 2023",
        publisher="stable-diffusion-webui, wiki",
        at="github.com/AUTOMATIC1111/stable-diffusion-webui/wiki",
        states="whole from 12 GB on, in parts with 8 GB, in small parts with 4 GB",
    ),
    "training": Published(
        title="Transformers documentation, GPU memory usage",
        publisher="Hugging Face",
        at="huggingface.co/docs/transformers",
        states=(
            "6 + 8 + 4 bytes a parameter in mixed precision; 4 billion with a batch of "
            "16 about 85 GB"
        ),
    ),
}

NVIDIA: Final = Published(
    title="CUDA Toolkit, Driver, and Architecture Matrix",
    publisher="NVIDIA",
    at="docs.nvidia.com/datacenter/tesla/drivers",
    states=(
        "last driver branch R390 for Fermi, R470 for Kepler, R580 for Maxwell, Pascal "
        "and Volta, ongoing from Turing on"
    ),
)
BRANCHES: Final = Published(
    title="current graphics driver releases",
    publisher="NVIDIA",
    at="forums.developer.nvidia.com",
    states="390 and 470 are no longer maintained",
)
R580: Final = Published(
    title="Supported Drivers and CUDA Toolkit Versions",
    publisher="NVIDIA",
    at="docs.nvidia.com/datacenter/tesla/drivers",
    states="R580 ends in June 2028",
)
GCN: Final = Published(
    title="AMD moves GCN 1, 2 and 3 to legacy, June 2021",
    publisher="AnandTech, after AMD's announcement",
    at="anandtech.com, tomshardware.com",
    states="Radeon Software 21.5.2 is their last",
)
TERASCALE: Final = Published(
    title="AMD ends support before GCN, November 2015",
    publisher="ocaholic.ch, after AMD's announcement",
    at="ocaholic.ch",
    states="Catalyst 15.7.1 is their last, Crimson 15.11 the last beta",
)
