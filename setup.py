"""What pyproject.toml cannot say: a wheel carries one worked job, taken from examples/ so that it has one home."""

import shutil
from pathlib import Path

from setuptools import setup
from setuptools.command.build_py import build_py

EXAMPLES = Path(__file__).parent / "examples"
PACKED = ("mixer-cover", "procedures/kbw-lp-04.toml")


class WithExample(build_py):
    """Copies the example beside the package's own files."""

    def run(self) -> None:
        super().run()
        if self.editable_mode:  # a checkout has its examples
            return
        for name in PACKED:
            for file in sorted(path for path in [EXAMPLES / name, *(EXAMPLES / name).glob("*")] if path.is_file()):
                target = Path(self.build_lib) / "soundedge" / "examples" / file.relative_to(EXAMPLES)
                target.parent.mkdir(parents=True, exist_ok=True)
                shutil.copyfile(file, target)


setup(cmdclass={"build_py": WithExample})
