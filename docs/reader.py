#!/usr/bin/env python3
"""Reads an archive without traybook. Python 3.7 or later is enough, without further libraries; format.md tells the rules.

python3 reader.py              checks every line, the chains and every file, and lists the pictures
python3 reader.py 2026-014     checks lines and chains, and tells the picture's history, as its entries count today
"""
import datetime, hashlib, json, os, re, sys

BAG = os.path.dirname(os.path.dirname(os.path.abspath(__file__)))


def read(path):
    """The entries, the ends of their chains, and what is to be said of each line that is not as and where it was written."""
    by_hash, ends, damage = {}, {}, []
    for n, line in enumerate(open(path, "rb"), 1):
        found = re.fullmatch(rb'(\{.*),"prev":"([0-9a-f]{64})","hash":"([0-9a-f]{64})"\}\r?\n?', line)
        stored, prev, own = (found[1] + b"}", found[2].decode(), found[3].decode()) if found else (b"", "", "")
        if hashlib.sha256(b"traybook-entry-1\n%s\n%s" % (prev.encode(), stored)).hexdigest() != own:
            damage.append("line %d %s" % (n, "was changed: its bytes give another hash" if found else "does not end with its prev and hash"))
            continue
        e, before = json.loads(stored), by_hash.get(prev)
        if before is None and (prev != "0" * 64 or e["book_seq"] != 1):
            damage.append("line %d: the entry before it does not stand above it" % n)
        if before and e["book_seq"] != (before["book_seq"] + 1 if before["book"] == e["book"] else 1):
            damage.append("line %d is number %d, after number %d" % (n, e["book_seq"], before["book_seq"]))
        if own in by_hash:
            damage.append("line %d stands there twice" % n)
        goes_on = before and before["book"] == e["book"] and ends.pop(prev, None)  # of two copies of a book both may
        e["chain"] = before["chain"] if goes_on else own[:8]
        by_hash[own], ends[own] = e, "%s %d %s" % (e["book"], e["book_seq"], own)
    return list(by_hash.values()), set(ends.values()), damage


def check_bag(entries, ends, manifests, wrong):
    """No chain can see that its own end was cut off: bag-info.txt has the ends as they were, a manifest the files."""
    tag = lambda name: open(os.path.join(BAG, name), encoding="utf-8", errors="replace")
    labels = [line.rstrip().split(": ", 1) for line in tag("bag-info.txt") if ": " in line]
    for end in [label[1] for label in labels if label[0] == "Chain-Head" and label[1] not in ends]:
        wrong("no chain ends with %s: lines are missing at its end, or were added" % end)
    if ["Entry-Count", str(len(entries))] not in labels:
        wrong("bag-info.txt tells another number of entries than %d" % len(entries))
    for digest, _, name in (line.rstrip("\n").partition("  ") for m in manifests for line in tag(m)):
        if not os.path.isfile(os.path.join(BAG, name)):
            wrong("%s is not there" % (name or digest))
        elif hashlib.sha512(open(os.path.join(BAG, name), "rb").read()).hexdigest() != digest:
            wrong("%s was changed" % name)


def counting(entries):
    """The entries that count: voids first, the newest before those that it may take back; then amendments."""
    micro = lambda text: re.sub(r"\.\d+", lambda part: part[0][:7].ljust(7, "0"), text.replace("Z", "+00:00"))  # as 3.7 wants it
    moment = lambda text: datetime.datetime.fromisoformat(micro(text)).timestamp()
    recorded = sorted(entries, key=lambda e: (moment(e["recorded_at"]), e["book"], e["book_seq"]))
    gone = set()  # ids of entries and of batches
    for v in reversed(recorded):
        if v["kind"] == "entry.voided" and not {v["id"], v.get("batch")} & gone:
            gone.add(v["data"].get("entry") or v["data"]["batch"])
    count = {e["id"]: e for e in recorded if not {e["id"], e.get("batch")} & gone}
    for a in list(count.values()):
        e = count.get(a["data"]["entry"]) if a["kind"] == "entry.amended" else None
        for name, value in a["data"]["set"].items() if e else ():
            (e if name == "at" or name == "zone" and e["kind"] != "book.opened" else e["data"])[name] = value
            e["amended"] = True
    return sorted((e for e in count.values() if e["kind"] not in ("entry.voided", "entry.amended")), key=lambda e: moment(e["at"]))


def picture_of(data):
    sheet = re.fullmatch(r"(\d{4}-\d+)(n|p\d+)?(@\d+)?", str(data.get("picture") or data.get("sheet") or data.get("about")))
    return sheet and sheet[1]


def tell(log, picture):
    own = {e["id"]: e for e in log if picture_of(e["data"]) == picture}
    cited, chains = {e["data"].get("reading") for e in own.values()}, sorted({e["chain"] for e in own.values()})
    yield "%s: %d entries" % (picture, len(own)) + (" in %d chains: joined books may both have this number" % len(chains) if chains[1:] else "")
    for e in log:
        if e["id"] in own or e["id"] in cited or e["data"].get("about") in own:
            fields = ", ".join("%s %s" % (k, v if isinstance(v, str) else json.dumps(v)) for k, v in e["data"].items() if v is not None)
            marks = ("  (chain %s)" % e["chain"] if chains[1:] else "") + ("  (put right later)" if "amended" in e else "")
            yield "%s  %s  %s%s" % (e["at"], e["kind"], fields, marks)


def main(pictures):
    entries, ends, damage = read(os.path.join(BAG, "data", "events.ndjson"))
    check_bag(entries, ends, () if pictures else ("manifest-sha512.txt", "tagmanifest-sha512.txt"), damage.append)
    log = counting([] if damage else entries)
    whole = ["%d entries, each as it was written and in its place" % len(entries)]
    whole.append("pictures: " + " ".join(sorted({picture_of(e["data"]) for e in log if e["kind"] == "sheet.exposed"})))
    for line in damage or whole + [line for picture in pictures for line in tell(log, picture.split("@")[0])]:
        print("".join(c if c.isprintable() else "\\u%04x" % ord(c) for c in line))  # what a screen would obey is shown
    sys.exit(bool(damage))


if __name__ == "__main__":
    sys.stdout.reconfigure(encoding="utf-8")
    try:
        main(sys.argv[1:])
    except OSError as e:
        sys.exit("%s cannot be read: %s" % (e.filename, e.strerror))
