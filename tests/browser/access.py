"""What a page is held to for everybody: axe-core's findings, room for it at each size, and the way round it by keys."""

from itertools import pairwise

from axe_playwright_python.sync_playwright import Axe

SCREENS = {"phone": (390, 844), "tablet": (820, 1180), "laptop": (1280, 800)}
THUMB = 44  # CSS pixels: WCAG 2.2, 2.5.5 (AAA); 2.5.8 (AA) asks for 24
MOST_STOPS = 400

_TARGETS = """(thumb) => {
    const shown = (e) => e.checkVisibility({ visibilityProperty: true }) && !e.closest(".skip, .js-plotly-plot");
    const size = (e) => {
        const label = /radio|checkbox|file/.test(e.type) && e.labels[0];
        const { width, height } = (label || e).getBoundingClientRect();
        return [width, height];
    };
    const inLine = (e) => e.tagName === "A" && getComputedStyle(e).display === "inline"; // 2.5.8's own exception
    return [...document.querySelectorAll("a[href], button, input, select, textarea, summary")]
        .filter((e) => shown(e) && !inLine(e) && Math.min(...size(e)) < thumb - 0.5)
        .map((e) => `${e.tagName} ${e.id} ${(e.innerText || e.ariaLabel || "").slice(0, 40)} ${size(e)}`);
}"""

_CUT = """() => [...document.querySelectorAll("main *")]
    .filter((e) => e.checkVisibility() && !e.closest(".js-plotly-plot, .unseen, thead"))
    .filter((e) => ["hidden", "clip"].includes(getComputedStyle(e).overflowX) && e.scrollWidth > e.clientWidth + 1)
    .map((e) => `${e.tagName} ${e.className} ${e.scrollWidth} in ${e.clientWidth}`)"""

_HEADINGS = """() => [...document.querySelectorAll("h1, h2, h3, h4, h5, h6")]
    .filter((e) => e.checkVisibility()).map((e) => Number(e.tagName[1]))"""

# All that Tab should reach; of a group of radio buttons one is enough.
_STOPS = """() => {
    const all = [...document.querySelectorAll("a[href], button, input, select, textarea, summary, [tabindex='0']")];
    const seen = new Set();
    const mine = all.filter((e) => e.checkVisibility({ visibilityProperty: true }) && !e.disabled && e.tabIndex >= 0
        && !e.closest("[inert]") && (e.type !== "radio" || (!seen.has(e.name) && seen.add(e.name))));
    mine.forEach((e, i) => (e.dataset.stop = i));
    return mine.map((e) => `${e.tagName} ${e.id || e.innerText || e.ariaLabel || ""}`.slice(0, 60));
}"""

# Where Tab has come to: its place in that list, whether it can be seen, and whether anybody sees that it is there.
_HERE = """() => {
    const here = document.activeElement;
    if (here === document.body || here === document.documentElement) return null;
    const of = here.type === "radio"
        ? [...document.querySelectorAll(`[name="${here.name}"]`)].find((e) => e.dataset.stop) : here;
    const ring = (e) => {
        const s = getComputedStyle(e);
        return s.outlineStyle === "auto" || (s.outlineStyle !== "none" && parseFloat(s.outlineWidth) >= 2);
    };
    const beside = [here, here.nextElementSibling, ...(here.labels || []), here.previousElementSibling].filter(Boolean);
    const { left, right, top, bottom } = here.getBoundingClientRect();
    const inside = right > 0 && bottom > 0 && left < innerWidth && top < innerHeight;
    // Under something that stays in place while the page moves (WCAG 2.2, 2.4.11)?
    let over = document.elementFromPoint((left + right) / 2, (top + bottom) / 2);
    const stays = (e) => /sticky|fixed/.test(getComputedStyle(e).position);
    while (over && (over.contains(here) || !stays(over))) over = over.parentElement;
    const place = of && of.dataset.stop ? Number(of.dataset.stop) : -1;
    return [place, inside && !over, beside.some(ring), here.outerHTML.slice(0, 160)];
}"""


def unfold(page):
    """Open every fold."""
    page.evaluate("document.querySelectorAll('details').forEach((fold) => (fold.open = true))")


def axe_findings(page):
    """Every violation of every rule of axe-core, in light and dark, on the phone and the laptop, as lines of text."""
    found = []
    for size in ("phone", "laptop"):
        width, height = SCREENS[size]
        page.set_viewport_size({"width": width, "height": height})
        for scheme in ("light", "dark"):
            page.emulate_media(color_scheme=scheme)
            page.wait_for_timeout(350)  # colours fade over
            for rule in Axe().run(page, options={"resultTypes": ["violations"]}).response["violations"]:
                nodes = [" ".join(map(str, node["target"])) for node in rule["nodes"][:3]]
                found.append(f"{size}, {scheme}: {rule['impact']} {rule['id']}: {'; '.join(nodes)}")
    return found


def room_faults(page):
    """What does not fit: scrolls sideways, is cut off, is too small for a thumb, or a heading out of order."""
    found = []
    for name, (width, height) in SCREENS.items():
        page.set_viewport_size({"width": width, "height": height})
        wide, tries = width + 1, 0
        while wide > width and tries < 50:  # a picture takes its time to follow
            page.wait_for_timeout(100)
            wide, tries = page.evaluate("document.documentElement.scrollWidth"), tries + 1
        found += [f"{name}: {wide} px wide"] if wide > width else []
        found += [f"{name}: cut off: {what}" for what in page.evaluate(_CUT)]
        if name == "phone":
            found += [f"{name}: small: {what}" for what in page.evaluate(_TARGETS, THUMB)]
    heads = page.evaluate(_HEADINGS)
    if heads[:1] != [1] or any(b > a + 1 for a, b in pairwise(heads)):
        found.append(f"headings: {heads}")
    return found


def tab_faults(page, key="Tab"):
    """Walk by Tab to the end, or by Shift+Tab back: what is not reached, out of order, out of sight or has no ring."""
    wanted = page.evaluate(_STOPS)
    page.evaluate(
        "document.body.tabIndex = -1; document.body.focus(); document.body.removeAttribute('tabindex')"
    )
    found, reached = [], []
    if key != "Tab":
        reached = [len(wanted) - 1]
        page.locator(f"[data-stop='{reached[0]}']").focus()
    for _ in range(MOST_STOPS):
        page.keyboard.press(key)
        here = page.evaluate(_HERE)
        if here is None:
            break
        place, inside, ring, what = here
        if reached and place == reached[-1]:
            continue  # a date field has a stop for each of its parts
        found += [] if inside else [f"out of sight: {what}"]
        found += [] if place >= 0 else [f"came while walking: {what}"]
        found += [] if ring else [f"no ring: {what}"]
        if place in reached:
            break
        reached.append(place)
    else:
        found.append("a trap: no end in sight")
    if reached != sorted(reached, reverse=key != "Tab"):
        found.append(f"out of order: {reached}")
    found += [f"not reached: {what}" for i, what in enumerate(wanted) if i not in reached]
    return found
