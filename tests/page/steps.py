"""The loop of a new clutch as one plays it in a browser with the keyboard alone, step by step."""

from __future__ import annotations

import csv

from tests.page.conftest import EXAMPLES

#: what the form is given: a clutch of stacks of five, in a fixed room
CLUTCH = {
    "clutch.travel": "0.833",
    "datum.seating_load": "",
    "datum.installed_length": "6.25",
    "target.load": "890",
    "target.spread_tolerance": "9",
    "target.load_tolerance": "15",
    "clutch.shoe_mass": "210",
    "clutch.cg_radius": "52",
    "clutch.drum_radius": "63.5",
    "clutch.friction": "0.3",
    "disc.od": "20",
    "disc.id": "10.2",
    "stack.shims": "0.1, 0.1, 0.1, 0.2, 0.2, 0.2, 0.5, 0.5, 0.5",
}
#: discs of the example's bag that are typed: three stacks of five, and spares for swaps
DISCS = 20
#: of them so many at each end are typed
TYPED = 4
#: invented settled loads of the shoes in N, round by round: the last are close enough
ROUNDS = {
    1: (884.0, 890.0, 896.0), 2: (896.5, 890.5, 883.5), 3: (889.5, 890.0, 890.5),
    4: (889.5, 890.0, 890.5),
}  # fmt: skip
#: kinds of readings, and how many N the first push is above the settled load
KINDS = (("first", 9.0), ("settled", 0.0))
#: typed ten times too high, told, and mended by a tap
SLIP = (1, 2, "settled")
#: typed believable but wrong, kept, and taken back
WRONG = (2, "settled")


def act(tab, what, key="Enter"):
    """Reach something with the keyboard and press a key on it."""
    one = tab.page.locator(what).first
    assert one.evaluate("el => { el.focus(); return el === document.activeElement; }"), what
    tab.page.keyboard.press(key)


def goes(tab, what):
    """Follow a link and wait for its page."""
    with tab.page.expect_navigation():
        act(tab, what)


def type_into(tab, field, value):
    """Type over what a field holds, key by key as a caliper does."""
    tab.page.focus(field)
    tab.page.keyboard.press("Control+A")
    tab.page.keyboard.type(value)


def set_up(tab, name):
    tab.looks()
    goes(tab, "text=A new clutch")
    tab.looks()
    type_into(tab, "#f-name", name)
    act(tab, "input[value=cone_height]", "Space")
    goes(tab, "text=Make it")
    tab.looks()
    for field, value in CLUTCH.items():
        tab.page.fill(f'[id="f-{field}"]', value)
    act(tab, "text=Save it")
    tab.page.wait_for_selector("text=Saved in the job file")
    tab.looks()


def measure(tab, bag):
    """Type discs, each value ended by Enter as a caliper does; those between come from elsewhere.

    `bag` is the file that the page keeps, into which another device writes them.
    """
    page = tab.page
    goes(tab, "nav >> text=Bag")
    tab.looks()
    with (EXAMPLES / "kart_mm" / "bag.csv").open(newline="") as file:
        rows = list(csv.DictReader(file))[:DISCS]
    for number, row in enumerate(rows, 1):
        if TYPED < number <= DISCS - TYPED:
            copied(bag, row)
            continue
        if number == DISCS - TYPED + 1:
            page.wait_for_selector(f"h1:has-text('{DISCS - TYPED} discs')")
        # the field of the thickness is ready; key by key a few times, which takes its time
        enter = page.keyboard.type if number < 4 else page.keyboard.insert_text
        for column in ("thickness_mm", "cone_height_mm"):
            enter(row[column])
            page.keyboard.press("Enter")
        next_name = f'#f-disc[value="A{number + 1:02d}"]'
        page.wait_for_selector(f"{next_name}, button[name=insist]")
        if page.query_selector("button[name=insist]"):
            act(tab, "button[name=insist]")
            page.wait_for_selector(next_name)
    assert page.locator(f"h1:has-text('{DISCS} discs')").count() == 1
    tab.looks()


def copied(bag, row):
    """Write a disc as the last one was written."""
    with bag.open(newline="") as file:
        last = list(csv.DictReader(file))[-1]
    last |= {name: row[name] for name in ("disc", "thickness_mm", "cone_height_mm")}
    with bag.open("a", newline="") as file:
        csv.DictWriter(file, list(last)).writerow(last)


def match_and_build(tab):
    """Match, and tick every disc and shim of a stack as it is laid."""
    page = tab.page
    goes(tab, "nav >> text=Match")
    tab.looks()
    act(tab, "button:has-text('Match the')")
    page.wait_for_selector("text=Build it")
    tab.looks()
    goes(tab, "text=Build it")
    tab.looks()
    parts = page.locator("[id^=part-1-]").count()
    for part in range(1, parts + 1):
        act(tab, f"#part-1-{part}", "Space")
        page.wait_for_selector(f"#part-1-{part}[aria-pressed=true]")
    page.wait_for_selector(f"text={parts} of {parts} placed")
    tab.looks()
    page.reload()
    assert page.locator("[id^=part-1-][aria-pressed=true]").count() == parts


def read(tab):
    """Read round after round; return what was typed, as the terminal is told it, and the end."""
    page, told, word = tab.page, [], ""
    goes(tab, "nav >> text=Gauge")
    tab.looks()
    wrong = [WRONG]
    for number, loads in ROUNDS.items():
        if word == "STOP":
            break
        for shoe, load in enumerate(loads, 1):
            if page.locator(f"article.stands #r-{shoe}-settled").count():
                continue
            for kind, above in KINDS:
                if not page.is_visible(f"#r-{shoe}-{kind}"):
                    continue
                typed = f"{load + above:.1f}"
                if (number, shoe, kind) == SLIP:
                    told += slip(tab, f"#r-{shoe}-{kind}", typed)
                    continue
                if (number, kind) in wrong:
                    wrong = []
                    told += [take_back(tab, f"#r-{shoe}-{kind}", kind, f"{load - 2:.1f}"), "back"]
                keep(tab, f"#r-{shoe}-{kind}", typed)
                told.append(typed)
        tab.looks()
        word = page.inner_text(".advice h2")
    return told, word


def keep(tab, field, load):
    """Type a load and wait until it is kept."""
    before = tab.page.locator(".past li").count()
    type_into(tab, field, load)
    tab.page.keyboard.press("Enter")
    tab.page.wait_for_function(
        "count => document.querySelectorAll('.past li').length > count", arg=before
    )


def slip(tab, field, load):
    """Type a load ten times too high, look at the question, and take what is offered."""
    type_into(tab, field, load.replace(".", ""))
    tab.page.keyboard.press("Enter")
    tab.page.wait_for_selector("text=ten times too high")
    tab.looks()
    before = tab.page.locator(".past li").count()
    act(tab, "button[name=taken]")
    tab.page.wait_for_function(
        "count => document.querySelectorAll('.past li').length > count", arg=before
    )
    return [load.replace(".", ""), "yes"]


def take_back(tab, field, kind, load):
    """Keep a load, and take it back by its button."""
    before = tab.page.locator(".past li").count()
    keep(tab, field, load)
    act(tab, f'.past button[aria-label$="{kind}, {load} N"]')
    tab.page.wait_for_function(
        "count => document.querySelectorAll('.past li').length === count", arg=before
    )
    return load
