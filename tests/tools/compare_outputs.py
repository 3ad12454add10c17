#!/usr/bin/env python3
"""Proves that a refactoring changes nothing that people or machines see.

    python3 tests/tools/compare_outputs.py OLD_BINARY NEW_BINARY [--corpus ARCHIVE]... [--sample N] [--words FILE]

Runs two builds of `asfitted` on the same inputs, in every command (but `capture`, which reads this very machine) and
every output format, and compares exit codes, standard output, standard error and written files. Inputs that are made
on the way, such as derived plans, are made by the old build for both.

Differences have three levels:
  STRUCTURAL  an exit code, a number, a slot, a key, a word for machines, the length of a list, markup, code
  rewording   prose that says the same numbers and slots in other words, or the same words set in another way
  known       explained in full by --words, a file of lines `old<TAB>new`; longest first, blanks count as one
A difference shows as the words that differ, in brackets, with some around them. Numbers and names of slots that are
the same on both sides show as `#`, so that equal rewordings count as one.

Exit code: 0 all equal or known, 1 something is worded anew, 2 something is structural.
"""

import argparse
import csv
import html.parser
import io
import json
import os
import re
import shlex
import shutil
import subprocess
import sys
import tarfile
import tempfile
import time
import xml.etree.ElementTree as ElementTree
from collections import Counter
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, field
from difflib import SequenceMatcher
from pathlib import Path

FIXTURES = Path(__file__).resolve().parents[2] / "fixtures"
STRUCTURAL, REWORDED, KNOWN = "STRUCTURAL", "rewording", "known"
ANY = ("text", "json", "html")

# ---- Comparing

# JSON keys that hold sentences, and those that hold words for machines; other strings are prose if they have a blank.
SENTENCES = set("summary expected found cause why check text reason notes usual".split())
MACHINE = set("""kind slot slots other_slot severity verdict state fields field format line step likelihood certainty
    source change name host maker product part serial type size label processor status from limit pattern of station
    evenness""".split())
READ_OUT = {"aria-label", "title", "alt", "placeholder", "label"}
FORMS = {".csv": "csv", ".xml": "xml", ".html": "html", ".jsonl": "jsonl", ".json": "json", ".prom": "metrics"}
HASH = re.compile(r"sha256-[\w+/=]+")
# A number, the name of a slot, or a word for the severity: what no rewording may change.
FIRM = re.compile(r"""[^\s,;:()'"`<>=]*\d[^\s,;:()'"`<>=]*|\((?:fault|warning|unproven)\)""")


def collapse(text):
    return " ".join(text.split())


def firm(text):
    return [word.rstrip(".") for word in FIRM.findall(text)]


def masked(words):
    return FIRM.sub("#", " ".join(words))


def changes(old, new):
    """The blocks that differ in two lists. Long ones are not searched for the best match of all."""
    if len(old) == len(new) > 2000:
        differ = [at for at, pair in enumerate(zip(old, new)) if pair[0] != pair[1]]
        starts = [at for before, at in zip([-9, *differ], differ) if at > before + 1]
        ends = [at + 1 for at, after in zip(differ, [*differ[1:], len(old) + 9]) if after > at + 1]
        return [(start, end, start, end) for start, end in zip(starts, ends)]
    matched = SequenceMatcher(None, old, new, autojunk=max(len(old), len(new)) > 2000).get_opcodes()
    return [bounds for tag, *bounds in matched if tag != "equal"]


def code_lines(text):
    """The lines of a style or a script without comments."""
    lines = (line.strip() for line in re.sub(r"/\*.*?\*/", "", text, flags=re.S).splitlines())
    return [line for line in lines if line and not line.startswith("//")]


class Words:
    """Rewordings that are meant."""

    def __init__(self, path):
        lines = path.read_text("utf-8").splitlines() if path else []
        self.new = {collapse(old): collapse(new) for old, new in (line.split("\t") for line in lines if line.strip())}
        longest = sorted(self.new, key=len, reverse=True)
        self.old = re.compile("|".join(map(re.escape, longest))) if longest else None

    def apply(self, text):
        return self.old.sub(lambda hit: self.new[hit[0]], collapse(text)) if self.old else collapse(text)


class Page(html.parser.HTMLParser):
    """A page as lines: tags, and what people read or are read."""

    def __init__(self, text):
        super().__init__()
        self.lines, self.assets, self.hashes, self.inside = [], [], [], None
        self.feed(text)
        self.close()

    def handle_starttag(self, tag, attributes):
        self.inside = tag
        shown = " ".join([tag] + [f"{name}={value!r}" for name, value in attributes if name not in READ_OUT])
        self.hashes += HASH.findall(shown)
        self.lines.append(HASH.sub("sha256", f"<{shown}>"))
        self.lines += [f"@{name} {value}" for name, value in attributes if name in READ_OUT]

    def handle_endtag(self, tag):
        self.inside = None
        self.lines.append(f"</{tag}>")

    def handle_data(self, data):
        if self.inside in ("style", "script"):
            self.assets.append(data)
        elif data.strip():
            self.lines.append(data.replace("<", "&lt;"))


class Comparison:
    """Compares two outputs; has a method for each form, which yields (level, old, new)."""

    def __init__(self, words):
        self.words = words

    def outputs(self, form, old, new):
        try:
            found = list(getattr(self, form)(old, new))
        except (ValueError, csv.Error, ElementTree.ParseError):
            found = list(self.text(old, new))  # what is not of its form is text
        return found or [(REWORDED, *["(only the layout differs)"] * 2)]

    def prose(self, old, new):
        """The phrases that differ in two running texts, with some words around them."""
        a, b, groups = self.words.apply(old).split(), new.split(), []
        if a == b:
            yield KNOWN, "", ""
        for a1, a2, b1, b2 in changes(a, b):
            if groups and a1 - groups[-1][1] <= 3:
                groups[-1][1], groups[-1][3] = a2, b2
            else:
                groups.append([a1, a2, b1, b2])
        for a1, a2, b1, b2 in groups:
            was, now = " ".join(a[a1:a2]), " ".join(b[b1:b2])
            level = REWORDED if firm(was) == firm(now) else STRUCTURAL
            was, now = (masked([was]), masked([now])) if level == REWORDED else (was, now)
            before, after = masked(a[max(0, a1 - 3):a1]), masked(a[a2:a2 + 3])
            yield level, f"{before} [{was}] {after}", f"{before} [{now}] {after}"

    def sequence(self, old, new, is_data=lambda line: False):
        """Two lists of lines; those that are data may not be worded anew."""
        for a1, a2, b1, b2 in changes(old, new):
            was, now = old[a1:a2], new[b1:b2]
            if collapse(" ".join(was)) == collapse(" ".join(now)):
                yield REWORDED, *["(only blanks or the ends of lines differ)"] * 2
                continue
            wider = old[max(0, a1 - 1):a2 + 1], new[max(0, b1 - 1):b2 + 1]  # a phrase may begin in the line before
            if any(self.words.apply(" ".join(one)) == collapse(" ".join(other)) for one, other in ((was, now), wider)):
                yield KNOWN, "", ""
                continue
            data = [[line for line in lines if is_data(line)] for lines in (was, now)]
            for c1, c2, d1, d2 in changes(*data):
                yield STRUCTURAL, " ".join(data[0][c1:c2])[:300], " ".join(data[1][d1:d2])[:300]
            prose = [" ".join(line for line in lines if not is_data(line)) for lines in (was, now)]
            if collapse(prose[0]) != collapse(prose[1]):
                yield from self.prose(*prose)

    def values(self, old, new, is_prose):
        """Two lists of (path, value)."""
        paths = [[path for path, _ in items] for items in (old, new)]
        if paths[0] != paths[1]:
            yield from self.sequence(*paths, is_data=bool)
            return
        for (path, was), (_, now) in zip(old, new):
            if was == now and type(was) is type(now):
                continue
            if isinstance(was, str) and isinstance(now, str) and is_prose(path, was, now):
                yield from self.prose(was, now)
            else:
                yield STRUCTURAL, f"{path}: {was!r}"[:300], f"{path}: {now!r}"[:300]

    def text(self, old, new):
        return self.sequence(old.splitlines(), new.splitlines())

    def yaml(self, old, new):
        """Comments and sentences are prose, other lines are data."""
        is_data = lambda line: not line.lstrip().startswith("#") and len(line.split()) < 6
        return self.sequence(old.splitlines(), new.splitlines(), is_data)

    def metrics(self, old, new):
        return self.sequence(old.splitlines(), new.splitlines(), lambda line: not line.startswith("# HELP"))

    def json(self, old, new):
        return self.values(*(list(self.leaves("", json.loads(text))) for text in (old, new)), self.is_sentence)

    def jsonl(self, old, new):
        return self.json(*(f"[{','.join(text.splitlines())}]" for text in (old, new)))

    def leaves(self, path, value):
        if isinstance(value, dict):
            for key in sorted(value):
                yield from self.leaves(f"{path}.{key}", value[key])
        elif isinstance(value, list):
            yield f"{path} has {len(value)} items", None
            for item in value:
                yield from self.leaves(f"{path}[]", item)
        else:
            yield path, value

    def is_sentence(self, path, old, new):
        key = path.replace("[]", "").rpartition(".")[2]
        quoted = path.endswith("evidence[].text")  # a line of the input
        return not quoted and (key in SENTENCES or key not in MACHINE and " " in old and " " in new)

    def csv(self, old, new):
        return self.values(*map(self.cells, (old, new)), lambda _, was, now: " " in was and " " in now)

    def cells(self, text):
        rows = list(csv.reader(io.StringIO(text), strict=True))
        counts = [(f"{len(rows)} rows", None)] + [(f"row of {len(row)} cells", None) for row in rows]
        return counts + [pair for row in rows for pair in zip(rows[0], row)]

    def xml(self, old, new):
        nodes = (list(self.nodes(text)) for text in (old, new))
        return self.values(*nodes, lambda _, was, now: " " in was and " " in now)

    def nodes(self, text):
        for node in ElementTree.fromstring(text).iter():
            yield node.tag, (node.text or "").strip()
            yield from ((f"{node.tag}@{name}", value) for name, value in node.attrib.items())

    def html(self, old, new):
        one, other = Page(old), Page(new)
        level = STRUCTURAL
        if one.assets != other.assets:
            code = [[line for text in page.assets for line in code_lines(text)] for page in (one, other)]
            known = list(map(self.words.apply, one.assets)) == list(map(collapse, other.assets))
            level = KNOWN if known else REWORDED
            if not known and code[0] != code[1]:
                yield from self.sequence(*code, is_data=bool)
            else:
                yield level, *["(comments in a style or script)"] * 2
        if one.hashes != other.hashes:
            yield level, *["(hash of a style or script in the policy)"] * 2
        yield from self.sequence(one.lines, other.lines, lambda line: line.startswith("<"))


# ---- Running


@dataclass
class Tally:
    commands: dict = field(default_factory=dict)  # command and format: Counter of outcomes
    differences: Counter = field(default_factory=Counter)  # (level, old, new): how many
    examples: dict = field(default_factory=dict)  # the same: a case

    def add(self, command, case, found):
        levels = {level for level, _, _, _ in found}
        worst = next((level for level in (STRUCTURAL, REWORDED, KNOWN) if level in levels), "equal")
        self.commands.setdefault(command, Counter()).update(["cases", worst])
        for level, old, new, where in found:
            if level != KNOWN:
                self.differences[level, old, new] += 1
                self.examples.setdefault((level, old, new), f"{case} ({where})")

    def merge(self, other):
        for command, counts in other.commands.items():
            self.commands.setdefault(command, Counter()).update(counts)
        self.differences.update(other.differences)
        self.examples = {**other.examples, **self.examples}


@dataclass
class Setup:
    binaries: list
    versions: list
    words: Words
    work: Path


class Bench:
    """A folder in which both builds run one after the other; what they write goes below `out/`."""

    def __init__(self, setup, name):
        self.setup, self.tally, self.folder = setup, Tally(), setup.work / name
        self.folder.mkdir(parents=True, exist_ok=True)

    def write(self, name, content):
        path = self.folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(content if isinstance(content, bytes) else content.encode())
        return name

    def run_one(self, side, command, stdin=b"", inputs=()):
        """Runs one build; gives exit code and outputs."""
        out = self.folder / "out"
        shutil.rmtree(out, ignore_errors=True)
        out.mkdir()
        for name, contents in dict(inputs).items():
            self.write(name, contents[side])
        env = {"PATH": os.environ.get("PATH", ""), "LC_ALL": "C.UTF-8", "COLUMNS": "100"}
        try:
            done = subprocess.run(["asfitted", *shlex.split(command)], executable=self.setup.binaries[side], env=env,
                                  cwd=self.folder, input=stdin, capture_output=True, timeout=300)
        except subprocess.TimeoutExpired:
            return "none in 300 s", {"standard output": b""}
        outputs = {"standard output": done.stdout, "standard error": done.stderr}
        outputs |= {str(path.relative_to(out)): path.read_bytes() for path in sorted(out.rglob("*")) if path.is_file()}
        return done.returncode, {name: self.masked(side, content) for name, content in outputs.items()}

    def masked(self, side, content):
        """Leaves out the names of temporary files, and of builds of different versions which one they are."""
        content = re.sub(rb"\.asfitted-\w{6}\.part", b".asfitted-XXXXXX.part", content)
        version = self.setup.versions[side]
        differ = self.setup.versions[0] != self.setup.versions[1]
        return re.sub(rb"\b(asfitted |v)%b\b" % re.escape(version), rb"\1VERSION", content) if differ else content

    def run(self, command, formats=("text",), stdin=b"", inputs=()):
        """Runs both builds and compares. Gives the standard output of the old build by format."""
        label = re.match(r"((plan|boards|generate) )?\w*", command)[0].strip() or "(none)"
        said = {}
        for form in formats:
            full = f"{command} --format {form}" if form != "text" else command
            old, new = (self.run_one(side, full, stdin, inputs) for side in (0, 1))
            self.tally.add(f"{label} {form}", full, list(self.compare(label, form, old, new)))
            said[form], self.last = old[1]["standard output"], (old[1], new[1])
        return said

    def compare(self, label, form, old, new):
        if old[0] != new[0]:
            yield STRUCTURAL, f"exit code {old[0]}", f"exit code {new[0]}", "exit code"
        yaml = form == "text" and label in ("plan from", "plan place", "boards print", "boards derive")
        lines = form == "json" and label == "fleet"
        comparison = Comparison(self.setup.words)
        for name in sorted({*old[1], *new[1]}):
            was, now = (outputs.get(name) for outputs in (old[1], new[1]))
            if was is None or now is None:
                absent = f"no file {re.sub('[0-9]+', '#', name)}"
                yield STRUCTURAL, absent if was is None else "", absent if now is None else "", name
            elif was != now:
                kind = "yaml" if yaml else "jsonl" if lines else form
                kind = kind if name == "standard output" else FORMS.get(Path(name).suffix, "text")
                texts = (content.decode(errors="replace") for content in (was, now))
                yield from ((*found, name) for found in comparison.outputs(kind, *texts))


# ---- What is run

ANYTHING = "fit: [{module: any, slots: [s1.c1.p1]}]\n"
BAD_PLANS = ["", "fit: [\n", "fit:\n\t- x\n", "name: nothing\n", "name: a\nname: b\n",
             "fit: [{modul: 16GB, slots: [s1.c1.p1]}]\n",
             *(f"fit: [{{module: {module}, slots: [s1.c1.p1]}}]\n" for module in (
                 "16GB 2Rx4 Foo", "12GB 2Rx4 PC3L-10600R", "16GB PC3L-10700X", "{size: 99 TiB}",
                 "{sticker: 16GB 2Rx4 PC3L-10600R, ranks: 4}")),
             *(f"fit: [{{module: any, {rest}}}]\n" for rest in (
                 "slots: [s9.c1.p1]", "slots: [s1.c1.p1, s1.c1.p1]", "slots: [s1.c1.p1, s1.c1.p2], serials: [A]",
                 "slots: [s1.c1.p1], serials: 000051E6")),
             *(f"{ANYTHING}{line}\n" for line in (
                 "waive: [everything]", "machine: {product: Other}", "expect: {ecc: perhaps}", "expect: {speed: fast}",
                 "board: none-such", "mode: striping", "---\nfit: []")), "order: [12 x 16GB 2Rx4 PC3L-10600R]\n"]
EVENT = "1 | 11/20/2026 | 07:31:02 | Memory {} | {} | Asserted\n"
BESIDE = {
    "meminfo": "MemTotal: 98000000 kB\nHardwareCorrupted: 64 kB\n",
    "cmdline": "BOOT_IMAGE=/vmlinuz root=/dev/sda1 mem=64G crashkernel=512M\n",
    "edac": "mc/mc0/ce_count:9\nmc/mc0/ue_count:1\nmc/mc0/size_mb:98304\nmc/mc0/dimm0/dimm_label:s1.c1.p1\n"
            "mc/mc0/dimm0/dimm_ce_count:7\nmc/mc0/dimm0/dimm_ue_count:1\n",
    "events": EVENT.format("s1.c1.p1", "Uncorrectable ECC") + EVENT.format("s1.c2.p2", "Memory Device Disabled")
              + EVENT.format("s1.c2.p2", "Configuration Error"),
    "redfish": '{"@odata.type": "#Memory.v1_17_0.Memory", "DeviceLocator": "s1.c2.p2", "Status": {"State": "Absent"}}',
}
COMMANDS = ["", "demo", "show", "audit", "diagnose", "capture", "fleet", "compare", "boards", "boards print",
            "boards list", "boards derive", "plan", "plan from", "plan place", "plan check", "generate"]
# With every input that cannot be read in place of {}.
BROKEN = ["show {}", "audit {} --plan plan.yaml", "audit listing.txt --plan {}", "diagnose {}", "plan from {}",
          "plan check {}", "plan place {}", "boards derive {}", "boards print {}", "compare {} listing.txt",
          "audit listing.txt --plan plan.yaml --with {}", "fleet {} --plans plan.yaml", "fleet listing.txt --plans {}",
          *(f"fleet listing.txt --plans plan.yaml --{option} {{}}" for option in ("stock", "manifest", "baseline"))]


def demo(setup):
    bench = Bench(setup, "demo")
    run = bench.run
    run("demo", ANY)
    run("demo --files out/files", ANY)
    bench.run_one(0, "demo --files .")
    run("demo --files .", ANY)
    text = (bench.folder / "listing.txt").read_text()
    bench.write("own.yaml", run("plan from listing.txt", ANY)["text"])
    run("plan from listing.txt --any-serial", ANY)
    run("show -", ANY, stdin=text.encode())
    bench.write("kestrel.yaml", (FIXTURES / "pallet/boards/kestrel.yaml").read_bytes())
    bench.write("order.yaml", "board: kestrel.yaml\norder: [12 x 16GB 2Rx4 PC3L-10600R]\nwaive: [width]\n")
    for board in ("", "--board kestrel.yaml", "--board ddr3-2x3x3"):
        run(f"show listing.txt {board}", ANY)
        for plan in ("plan.yaml", "own.yaml", "order.yaml"):
            run(f"plan check {plan} {board}", ANY)
            run(f"audit listing.txt --plan {plan} {board} --work out/work.txt", ANY)
    run("audit listing.txt --plan plan.yaml --output out/result.txt")
    for name, content in BESIDE.items():
        bench.write(name, content)
        run(f"audit listing.txt --plan plan.yaml --with {name}", ANY)
    beside = " ".join(f"--with {name}" for name in BESIDE)
    for told in ("", "--fitted '192 GiB'", "--fitted '1 TiB'", "--fitted '100 GiB'", "--fitted many", "--plan plan.yaml",
                 "--fitted '12 x 16GB 2Rx4 PC3L-10600R'", "--fitted '13 x 16GB' --fitted '1 x 4GB'",
                 "--fitted '3 x 16GB Foo'", "--plan order.yaml"):
        run(f"diagnose listing.txt {told}", ANY)
        run(f"diagnose listing.txt {told} {beside} --board kestrel.yaml --work out/work.txt", ANY)
    bench.write("after.txt", text.replace("000051AE", "000051AF").replace("8-1333L", "8-1333M").replace("Twin", "Two"))
    bench.write("cut.txt", text[:len(text) * 2 // 3])
    bench.write("two.txt", f"# dmidecode 3.3\n{text}\n# dmidecode 3.3\n{text}")
    for pair in ("listing.txt after.txt", "plan.yaml listing.txt", "listing.txt listing.txt", "cut.txt listing.txt"):
        run(f"compare {pair}", ANY)
    for listing in ("cut.txt", "two.txt", "two.txt --nth 2", "two.txt --nth 5"):
        run(f"show {listing}", ANY)
        run(f"audit {listing} --plan plan.yaml", ANY)
    for command in COMMANDS:
        for option in ("--help", "-h", "--no-such-option", "--format pdf"):
            run(f"{command} {option}")
    for made in ("man", *(f"completions {shell}" for shell in ("bash", "zsh", "fish", "elvish", "powershell"))):
        run(f"generate {made}")
    for name, content in ("noise", "no listing\n"), ("nothing", ""), ("binary", bytes(range(256))), ("folder/x", "x"):
        bench.write(name, content)
    for broken in ("none-such", "noise", "nothing", "binary", "folder"):
        for command in BROKEN:
            run(command.format(broken), ("text", "json"))
    for number, content in enumerate(BAD_PLANS):
        plan = bench.write(f"bad/{number:02}.yaml", content)
        for command in ("audit listing.txt --plan", "plan check --board kestrel.yaml", "plan place"):
            run(f"{command} {plan}", ("text", "json"))
    run("fleet listing.txt --plans bad", ANY)
    for number, stock in enumerate(("part\nx\n", 'serial\n"open\n', "serial,serial\na,b\n")):
        run(f"fleet listing.txt --plans plan.yaml --stock {bench.write(f'stock{number}.csv', stock)}")
    for place in ("listing.txt", "none/such"):
        run(f"show listing.txt --output {place}", ANY)
    return bench.tally


def boards(setup):
    """Every class of the library, with orders that fit well, badly and not at all."""
    bench = Bench(setup, "boards")
    stickers = {"3": ["16GB 2Rx4 PC3L-10600R", "8GB 2Rx8 PC3-10600E", "32GB 4Rx4 PC3L-10600L"],
                "4": ["32GB 2Rx4 PC4-2666V-R", "64GB 4Rx4 PC4-2666V-L"],
                "5": ["32GB 2Rx8 PC5-4800B-R", "64GB 2Rx4 PC5-4800B-R"]}
    for line in bench.run("boards list", ANY)["text"].decode().splitlines():
        name = line.split()[0]
        bench.run(f"boards print {name}", ("text", "json"))
        generation, sockets, channels, slots = map(int, re.fullmatch(r"ddr(\d)-(\d+)x(\d+)x(\d+)", name).groups())
        kinds, each = stickers[str(generation)], sockets * channels
        head = f"board: {name}\n" + ("processors: [X5650, X5650]\n" if name.startswith("ddr3-2x3") else "")
        counts = (1, each - 1, each, each * slots, each * slots + 1)
        orders = [f"{count} x {kind}" for kind in kinds for count in counts]
        for order in [*orders, f"{each} x {kinds[0]}, {each // 2} x {kinds[1]}"]:
            plan = bench.write(f"{name}-{re.sub('[ ,]+', '-', order)}.yaml", f"{head}order: [{order}]\n")
            placed = bench.run(f"plan place {plan}", ("text", "json"))["text"]
            bench.run(f"plan place {plan} --why")
            if placed:
                bench.run(f"plan check {bench.write(f'placed-{plan}', placed)}", ("text", "json"))
        # Only the last slots filled, and one first slot with another kind.
        last = [f"{number + 1}{chr(97 + channel)}{slots}" for number in range(sockets) for channel in range(channels)]
        lines = [f"{{module: {kinds[0]}, slots: [{', '.join(last)}]}}", f"{{module: {kinds[1]}, slots: [1a1]}}"]
        plan = bench.write(f"last-{name}.yaml", f"{head}fit: [{', '.join(lines[:slots])}]\n")
        bench.run(f"plan check {plan}", ("text", "json"))
    return bench.tally


def fleet(bench, args):
    """A fleet with all its outputs at once, then as pages, and against an earlier run of the same build."""
    every = ("--json-lines out/l.jsonl --findings-table out/f.csv --hosts-table out/h.csv --test-report out/t.xml "
             "--metrics out/m.prom")
    bench.run(f"fleet {args} {every}")
    earlier = []
    for outputs in bench.last:  # one host was not there, one stood otherwise, one is gone
        lines = outputs.get("l.jsonl", b"").splitlines(keepends=True)
        gone = [line.replace(b'"listing":{"name":"', b'"listing":{"name":"gone-') for line in lines[2:3]]
        otherwise = [line.replace(b'"fitted"', b'"empty"') for line in lines[2:3]]
        earlier.append(b"".join(lines[1:2] + gone + otherwise + lines[3:]))
    bench.run(f"fleet {args}", ("json", "html"))
    bench.run(f"fleet {args} --jobs 1 --output out/pages", ("html",))
    bench.run(f"fleet {args} --baseline earlier.jsonl {every}", ANY, inputs={"earlier.jsonl": earlier})


def pallet(setup):
    bench = Bench(setup, "pallet")
    shutil.copytree(FIXTURES / "pallet", bench.folder, dirs_exist_ok=True)
    fleet(bench, "listings --plans plans --stock stock.csv")
    fleet(bench, "listings --plans plans --board boards/kestrel.yaml")
    rows = "host,plan", "bay01,plover", "bay02.txt,kestrel.yaml", "bay03,none-such", "bay39,plover", "nobody,kestrel"
    bench.write("manifest.csv", "\n".join(rows))
    fleet(bench, "listings --plans plans --manifest manifest.csv")
    for path in sorted((bench.folder / "listings").iterdir()):
        listing, own = f"listings/{path.name}", f"plans/{path.stem}.yaml"
        model = "plover" if b"Plover" in path.read_bytes() else "kestrel"
        plan = own if (bench.folder / own).exists() else f"plans/{model}.yaml"
        bench.run(f"audit {listing} --plan {plan} --work out/work.txt", ANY)
        bench.run(f"diagnose {listing} --plan {plan}", ANY)
        bench.run(f"compare listings/bay01.txt {listing}", ANY)
    return bench.tally


def altered(plan, index):
    """The plan changed in one of eight ways, so that the listing does not fulfil it."""
    fit, empty = plan["fit"], plan.get("empty", [])
    first, last, way = fit[0], fit[-1], index % 8
    module = first["module"] = {"size": "16 GiB"} if first["module"] == "any" else first["module"]
    first.pop("serials", None)
    last.pop("serials", None)
    if way == 0 and empty:  # one is planned where none is
        first["slots"][0], empty[0] = empty[0], first["slots"][0]
    elif way == 1 and "size" in module:
        number, unit = module["size"].split()
        module["size"] = f"{int(number) * 2} {unit}"
    elif way == 2 and empty:  # one more
        first["slots"].append(empty.pop())
    elif way == 3 and first is not last:  # two change places
        first["slots"][0], last["slots"][0] = last["slots"][0], first["slots"][0]
    elif way == 4:
        plan["expect"] = {"speed": 8800, "total": "4 TiB", "ecc": "on"}
    elif way == 5 and empty:  # another one more, by its serial number
        fit.append({"module": {**module, "part": "OTHER-1"}, "slots": [empty.pop()], "serials": ["S1"]})
    elif way == 6 and len(first["slots"]) > 1:  # one is not called for
        first["slots"].pop()
    else:
        module.update(part="OTHER-2", maker="Wetherlam", kind="LRDIMM", ranks=4)
    return json.dumps(plan)


def corpus(setup, numbered):
    """Some of the listings, each with its index: shown, audited against their own and a changed plan, diagnosed."""
    bench = Bench(setup, f"corpus-{numbered[0][0]}")
    before = None
    for index, path in numbered:
        name, tenth = path.name, index % 10 == 0
        formats = ANY if tenth else ANY[:2]
        shutil.copy(path, bench.folder / name)
        shown = bench.run(f"show {name}", formats)["json"]
        own = bench.run(f"plan from {name}", ("text", "json"))
        bench.run(f"boards derive {name}")
        bench.write("own.yaml", own["text"])
        bench.run(f"audit {name} --plan own.yaml", formats)
        plan = json.loads(own["json"] or "{}")
        changed = altered(plan, index).encode() if plan.get("fit") else own["text"]
        bench.write("changed.yaml", changed)
        bench.run(f"audit {name} --plan changed.yaml --work out/work.txt", formats)
        detected = json.loads(shown)["totals"]["detected_bytes"] if shown else None
        bench.run(f"diagnose {name} --fitted '{(detected or 64 << 30) * 3 // 2 >> 20} MiB'", formats)
        if tenth and before:
            bench.run(f"compare {before} {name}", formats)
        before = name
        bench.write(f"../fleet/plans/{path.stem}.yaml", changed if index % 2 else own["text"])
    return bench.tally


def corpus_fleet(setup, paths):
    bench = Bench(setup, "fleet")
    bench.write("manifest.csv", "host,plan\n" + "".join(f"{path.name},{path.stem}.yaml\n" for path in paths))
    fleet(bench, "listings --plans plans --manifest manifest.csv")
    return bench.tally


# ---- The whole


def unpack(archives, sample, folder):
    folder.mkdir(parents=True)
    paths = []
    for number, archive in enumerate(archives):
        with tarfile.open(archive) as tar:
            for member in [member for member in tar if member.isfile()][::sample]:
                paths.append(folder / f"{number}-{Path(member.name).name}")
                paths[-1].write_bytes(tar.extractfile(member).read())
    return paths


def report(tally, shown):
    print(f"{'':28}{'cases':>8}{'equal':>8}{'known':>8}{'differ':>8}")
    for command, count in sorted(tally.commands.items()):
        differ = count[REWORDED] + count[STRUCTURAL]
        print(f"{command:28}{count['cases']:8}{count['equal']:8}{count[KNOWN]:8}{differ:8}")
    for level in (STRUCTURAL, REWORDED):
        rows = [(count, key) for key, count in tally.differences.most_common() if key[0] == level]
        if rows:
            print(f"\n{level}: {sum(count for count, _ in rows)}, {len(rows)} of them different")
        for count, key in rows[:shown]:
            print(f"{count:7} x  - {key[1]}\n{'':11}+ {key[2]}\n{'':11}in {tally.examples[key]}")
        if len(rows) > shown:
            print(f"{'':11}and {len(rows) - shown} more; --show N shows more")


def main():
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("old", type=Path, metavar="OLD_BINARY")
    parser.add_argument("new", type=Path, metavar="NEW_BINARY")
    parser.add_argument("--corpus", type=Path, action="append", metavar="ARCHIVE",
                        help="tar archive of listings, may be given several times; that of the fixtures if left out")
    parser.add_argument("--sample", type=int, default=1, metavar="N", help="take each Nth listing of the corpus")
    parser.add_argument("--words", type=Path, metavar="FILE", help="rewordings that are meant: lines old<TAB>new")
    parser.add_argument("--show", type=int, default=100, metavar="N", help="show N differences of a level (100)")
    options = parser.parse_args()
    started = time.monotonic()
    binaries = [str(path.resolve(strict=True)) for path in (options.old, options.new)]
    versions = [subprocess.check_output([path, "--version"]).split()[-1] for path in binaries]
    tally = Tally()
    with tempfile.TemporaryDirectory(prefix="compare-outputs-") as work, ProcessPoolExecutor(2) as pool:
        setup = Setup(binaries, versions, Words(options.words), Path(work))
        archives = options.corpus or [FIXTURES / "listings/server-listings.tar.xz"]
        paths = unpack(archives, options.sample, setup.work / "fleet/listings")
        numbered = list(enumerate(paths))
        jobs = [pool.submit(job, setup) for job in (demo, boards, pallet)]
        jobs += [pool.submit(corpus, setup, numbered[at:at + 20]) for at in range(0, len(numbered), 20)]
        for job in jobs:
            tally.merge(job.result())
        tally.merge(pool.submit(corpus_fleet, setup, paths).result())
    report(tally, options.show)
    cases = sum(count["cases"] for count in tally.commands.values())
    print(f"\n{len(paths)} listings, {cases} cases, {time.monotonic() - started:.0f} s")
    levels = {level for level, _, _ in tally.differences}
    return 2 if STRUCTURAL in levels else 1 if REWORDED in levels else 0


if __name__ == "__main__":
    sys.exit(main())
