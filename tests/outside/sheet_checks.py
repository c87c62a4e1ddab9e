"""Lays readers of others beside the sheet, the lists and the packs.

    pip install pikepdf openpyxl; apt-get install qpdf poppler-utils
    cargo build --release && python3 tests/outside/sheet_checks.py target/release/wirewitness

For each demonstration machine: qpdf finds no fault in the PDF; pikepdf finds it tagged, with every typeface embedded and no time of
making; pdftotext finds every row of the wire list; Python's csv and openpyxl read back what `wires --json` says; zipfile lists the pack.
"""

import csv
import io
import json
import pathlib
import re
import subprocess
import sys
import tempfile
import zipfile

import openpyxl
import pikepdf

PROGRAM = pathlib.Path(sys.argv[1]).resolve()
ROOT = pathlib.Path(__file__).resolve().parents[2]


def run(*arguments):
    done = subprocess.run([str(a) for a in arguments], capture_output=True, cwd=ROOT)
    assert done.returncode == 0, (arguments, done.stdout, done.stderr)
    return done.stdout


def squeezed(text):
    return re.sub(r"[\s\u200b]", "", text)


def fonts(pdf):
    """Every font descriptor of the file."""
    for thing in pdf.objects:
        if isinstance(thing, pikepdf.Dictionary) and thing.get("/Type") == "/FontDescriptor":
            yield thing


def sheet(folder, name):
    out = folder / f"{name}.pdf"
    run(PROGRAM, "sheet", f"diagrams/{name}.ron", "-o", out)
    said = run("qpdf", "--check", out).decode()
    assert "No syntax or stream encoding errors found" in said, said
    with pikepdf.open(out) as pdf:
        pages = len(pdf.pages)
        assert pdf.Root.MarkInfo.Marked, "tagged"
        assert "/StructTreeRoot" in pdf.Root
        assert pdf.Root.Lang == "en"
        assert "/CreationDate" not in pdf.docinfo and "/ModDate" not in pdf.docinfo
        described = list(fonts(pdf))
        assert described and all("/FontFile3" in f or "/FontFile2" in f for f in described), "typefaces embedded"
    text = squeezed(run("pdftotext", "-raw", out, "-").decode())
    wires = json.loads(run(PROGRAM, "wires", "--json", f"diagrams/{name}.ron"))["wires"]
    rows = list(csv.reader(io.StringIO(run(PROGRAM, "wires", "--csv", f"diagrams/{name}.ron").decode(), newline="")))
    missing = [row[0] for row in rows[1:] if squeezed("".join(row[:7])) not in text]
    assert not missing, f"{name}: not in the text of the PDF: {missing}"
    again = folder / "again.pdf"
    run(PROGRAM, "sheet", f"diagrams/{name}.ron", "-o", again)
    assert out.read_bytes() == again.read_bytes(), "the same bytes each time"
    print(f"{name}: {pages} pages, {len(wires)} wires, {out.stat().st_size // 1000} kB")
    return wires


def lists(folder, name, wires):
    out = folder / f"{name}.csv"
    run(PROGRAM, "export", f"diagrams/{name}.ron", "-o", out)
    with open(out, newline="", encoding="utf-8") as file:
        rows = list(csv.DictReader(file, strict=True))
    assert [row["wire"] for row in rows] == [wire["wire"] for wire in wires]
    for row, wire in zip(rows, wires):
        assert row["number"] == (wire["number"] or "")
        assert row["from known"] == (wire["standing"]["from"] or "")
        if isinstance(wire["from"], str):
            assert row["from"].removesuffix(" (lifted)") == wire["from"]
    book = folder / f"{name}.xlsx"
    run(PROGRAM, "export", f"diagrams/{name}.ron", "-o", book)
    table = [[cell or "" for cell in row] for row in openpyxl.load_workbook(book)["wires"].iter_rows(values_only=True)]
    assert table[1:] == [list(row.values()) for row in rows]
    readings = folder / f"{name}-readings.csv"
    run(PROGRAM, "export", f"diagrams/{name}.ron", "--list", "readings", "-o", readings)
    with open(readings, newline="", encoding="utf-8") as file:
        print(f"{name}: {len(list(csv.DictReader(file, strict=True)))} readings")


def labels_and_pack(folder, name):
    out = folder / f"{name}-labels.pdf"
    run(PROGRAM, "labels", f"diagrams/{name}.ron", "-o", out)
    run("qpdf", "--check", out)
    pack = folder / f"{name}.zip"
    run(PROGRAM, "pack", f"diagrams/{name}.ron", "-o", pack)
    with zipfile.ZipFile(pack) as packed:
        assert packed.testzip() is None
        assert f"{name}.ron" in packed.namelist()
    into = folder / f"{name}-out"
    into.mkdir()
    run(PROGRAM, "unpack", pack, "-o", into)
    assert (into / f"{name}.ron").read_bytes() == (ROOT / f"diagrams/{name}.ron").read_bytes()


with tempfile.TemporaryDirectory() as temporary:
    for machine in ["pantry-locker", "flower-cooler", "proofer"]:
        folder = pathlib.Path(temporary)
        lists(folder, machine, sheet(folder, machine))
        labels_and_pack(folder, machine)
print("all as it should be")
