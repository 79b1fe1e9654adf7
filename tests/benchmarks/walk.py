"""How far a reader has to walk: what one picture opens and calls on its way, and how the code is laid out.

A picture for two destinations is swept in this process, with every order done at once by the worker's own functions. A
profile hook counts from when the picture has settled until it is finished. Counts do not depend on the machine.
"""

from __future__ import annotations

import ast
import importlib
import inspect
import pkgutil
import sys
import tempfile
from collections import Counter
from collections.abc import Iterator
from concurrent.futures import Future
from dataclasses import dataclass, field
from pathlib import Path
from types import FrameType
from typing import Any

import lanternslide
from lanternslide.config import Settings, load_settings
from lanternslide.config.limits import Limits
from lanternslide.daemon import service as loop
from lanternslide.daemon.inbox import Inbox
from lanternslide.ledger import Ledger
from lanternslide.records.events import Event, Finished, Found
from lanternslide.workers.executor import Answer, Order
from lanternslide.workers.memory_budget import MemoryBudget
from lanternslide.workers.worker_process import WORKER
from tests.support.pictures import save_jpeg
from tests.support.service import make_home

PACKAGE = Path(lanternslide.__file__).parent
ROOT = Path(__file__).parents[2]
CONFIG = """
[service]
state = "state"
settle_seconds = 0.1
workers = 1
watch = "poll"

[photographers.ida]
drop = "drop/ida"
otherwise = ["portfolio", "journal"]

[destinations.portfolio]
folder = "out/portfolio"
size = { long_edge = 300 }

[destinations.journal]
folder = "out/journal"
size = { long_edge = 400 }
"""
SETTLED = ("admit", "take_in")
"""How the function is called, now and in earlier versions, that is handed a file that has settled."""

GRAND = ("Ledger", "Settings", "Obstacles")
"""What a part should not be handed whole."""


@dataclass
class Walk:
    """What was counted."""

    side: str | None = None  #: ``main`` or ``worker``; None: nothing is counted.
    is_near: bool = False  #: Whether the picture was found; it is counted from when it has settled.
    modules: dict[str, set[str]] = field(default_factory=lambda: {"main": set(), "worker": set()})
    crossings: Counter[str] = field(default_factory=Counter)  #: Calls from one module into another, by side.
    calls: Counter[str] = field(default_factory=Counter)  #: Of the main process, by function.
    pairs: Counter[str] = field(default_factory=Counter)  #: The crossings among them.
    borders: int = 0  #: Those from one package into another, of the main process.
    statements: int = 0
    recipes: int = 0

    def hook(self, frame: FrameType, event: str, _: Any) -> None:
        """Count a call; what `sys.setprofile` takes."""
        code = frame.f_code
        if self.is_near and self.side is None and event == "call" and code.co_name in SETTLED and _module(frame):
            self.side, self.is_near = "main", False
        if self.side is None or event != "call":
            return
        if code.co_name == "__init__" and self.side == "main":
            self.recipes += type(frame.f_locals.get("self")).__name__ == "Recipe"
        callee = _module(frame)
        if callee is None or code.co_filename == "<string>":  # what a dataclass writes for itself
            return
        self.modules[self.side].add(callee)
        if self.side == "main":
            self.calls[f"{callee}.{code.co_qualname}"] += 1
        caller = _module(frame.f_back)
        if caller is not None and caller != callee:
            self.crossings[self.side] += 1
            self.borders += self.side == "main" and caller.split(".")[1] != callee.split(".")[1]
            self.pairs[f"{caller} -> {callee}.{code.co_qualname}"] += self.side == "main"

    def trace(self, statement: str) -> None:
        """Count what the ledger is asked and told, transactions not; what `Connection.set_trace_callback` takes."""
        if self.side == "main" and not statement.startswith(("BEGIN", "COMMIT", "PRAGMA")):
            self.statements += 1


def _module(frame: FrameType | None) -> str | None:
    name = frame.f_globals.get("__name__", "") if frame is not None else ""
    return name if name.startswith("lanternslide.") else None


class AtOnce:
    """An executor that does every order in this thread, at once."""

    def __init__(self, walk: Walk) -> None:
        self._walk = walk
        self.admission = MemoryBudget(1e6, 1)
        self.slots = 1

    def submit(self, order: Order) -> Future[Answer]:
        """Do an order."""
        before, self._walk.side = self._walk.side, None
        worker = importlib.import_module(WORKER)
        self._walk.side = "worker"
        result = worker.do(order.task)
        self._walk.side = before
        future: Future[Answer] = Future()
        future.set_result(Answer(key=order.key, result=result))
        return future

    def drain(self) -> None:
        """Nothing waits."""

    def adapt(self, _settings: Settings, _limits: Limits) -> None:
        """There is one worker."""

    def ping(self) -> bool:
        """Return that it is."""
        return True

    def close(self) -> None:
        """Nothing is open."""


def walk_one() -> Walk:
    """Have one picture go all the way, and return what was counted; one before it has loaded everything."""
    walk = Walk()
    with tempfile.TemporaryDirectory(prefix="lanternslide-walk-") as folder:
        home = make_home(Path(folder), CONFIG)
        state = home.root / "state"
        state.mkdir()
        settings = load_settings(home.config)
        substitute: Any = loop
        substitute.executor_for = lambda *_: AtOnce(walk)

        def tell(event: Event) -> None:
            if isinstance(event, Found) and event.file.relative.name == "second.jpg":
                walk.is_near = True
            if isinstance(event, Finished):
                walk.side = None

        for name in ("first.jpg", "second.jpg"):
            save_jpeg(home.drop() / name, 900, 600, seed=len(name))
            with Ledger(state) as ledger:
                ledger._connection.set_trace_callback(walk.trace)
                service = loop.Service(settings, ledger, Inbox(), tell)
                sys.setprofile(walk.hook)
                try:
                    service.run(until_idle=True)
                finally:
                    sys.setprofile(None)
                    walk.side = None
    return walk


def sources() -> Iterator[tuple[Path, str, ast.Module]]:
    """Yield every module of the package: its path in it, its text, and what it says."""
    for path in sorted(PACKAGE.rglob("*.py")):
        text = path.read_text("utf-8")
        yield path.relative_to(PACKAGE), text, ast.parse(text)


def classes() -> Iterator[type]:
    """Yield every class of the package."""
    for found in pkgutil.walk_packages([str(PACKAGE)], "lanternslide."):
        if found.name.endswith("__main__"):
            continue
        module = importlib.import_module(found.name)
        yield from (
            kind for _, kind in inspect.getmembers(module, inspect.isclass) if kind.__module__ == module.__name__
        )


def methods_of(kind: type) -> int:
    """Return how many methods and properties a class has, with those of the package's classes that it inherits from."""
    lines = [base for base in kind.__mro__ if base.__module__.startswith("lanternslide.")]
    return len(
        {
            name
            for base in lines
            for name, value in vars(base).items()
            if inspect.isfunction(value) or isinstance(value, property | classmethod | staticmethod)
            if getattr(getattr(value, "fget", None) or getattr(value, "__func__", value), "__qualname__", "").count(".")
            if not name.startswith("__") or name == "__init__"
        }
    )


def handed_whole() -> Counter[str]:
    """Return how many constructors take each of what should not be handed whole."""
    counts: Counter[str] = Counter()
    for _, _, tree in sources():
        for kind in (node for node in ast.walk(tree) if isinstance(node, ast.ClassDef)):
            named: set[str] = set()
            for node in kind.body:
                if isinstance(node, ast.FunctionDef) and node.name == "__init__":
                    every = (*node.args.args, *node.args.kwonlyargs)
                    named |= {ast.unparse(one.annotation) for one in every if one.annotation is not None}
                if isinstance(node, ast.AnnAssign):
                    named.add(ast.unparse(node.annotation))
            counts.update(name for name in GRAND if name in named)
    return counts


def uncommented_fields() -> tuple[int, int]:
    """Return how many fields of public records have no comment of their own, of how many."""
    without = every = 0
    for path, text, tree in sources():
        if path.parts[0] != "records":
            continue
        lines = text.splitlines()
        for kind in (node for node in ast.walk(tree) if isinstance(node, ast.ClassDef)):
            if kind.name.startswith("_") and kind.name != "_Part":
                continue
            for at, node in enumerate(kind.body):
                if isinstance(node, ast.AnnAssign):
                    every += 1
                    behind = kind.body[at + 1] if at + 1 < len(kind.body) else None
                    is_told = isinstance(behind, ast.Expr) and isinstance(behind.value, ast.Constant)
                    own = lines[node.lineno - 2 : node.end_lineno]  # and the line above
                    without += not (is_told or any("#:" in line for line in own))
    return without, every


def layout() -> None:
    """Print how the code is laid out."""
    share: Counter[str] = Counter()
    flat: Counter[str] = Counter()
    for path, text, _ in sources():
        share[path.parts[0] if len(path.parts) > 1 else "."] += len(text.splitlines())
        flat[path.parent.as_posix()] += path.name != "__init__.py"
    whole = sum(share.values())
    print(f"lines {whole}, modules {sum(flat.values())}")
    print("share:", ", ".join(f"{name} {lines / whole:.0%}" for name, lines in share.most_common(6)))
    print("modules in one folder:", ", ".join(f"{name} {number}" for name, number in flat.most_common(8)))
    sizes = sorted(((methods_of(kind), kind.__qualname__) for kind in classes()), reverse=True)[:8]
    print("methods:", ", ".join(f"{name} {number}" for number, name in sizes))
    print("constructors that take:", ", ".join(f"{name} {number}" for name, number in handed_whole().items()))
    print("record fields without a comment: {} of {}".format(*uncommented_fields()))
    for name in ("README.md", "DEVELOPERS.md"):
        print(f"{name}: {len((ROOT / name).read_text('utf-8').splitlines())} lines")


def main() -> None:
    """Print what was counted."""
    walk = walk_one()
    print(f"modules opened: main {len(walk.modules['main'])}, worker {len(walk.modules['worker'])}")
    print(f"calls between modules: main {walk.crossings['main']} ({walk.borders} between packages), ", end="")
    print(f"worker {walk.crossings['worker']}")
    looked_up = sum(number for name, number in walk.calls.items() if name.endswith(".destination_for"))
    mounts_read = sum(number for name, number in walk.calls.items() if name.endswith(".mounts.mounts"))
    print(f"recipe built {walk.recipes}, mount table read {mounts_read}, destination looked up {looked_up}")
    print(f"ledger statements {walk.statements}")
    if "--calls" in sys.argv:
        for name, number in walk.pairs.most_common():
            print(f"  {number:4} {name}")
    layout()


if __name__ == "__main__":
    main()
