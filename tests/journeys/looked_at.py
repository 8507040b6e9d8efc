"""What a person needs of a screen, measured: contrast, size of targets, and no scrolling sideways."""

from __future__ import annotations

from typing import Any

from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page

LEAST_CONTRAST = 7.0
"""WCAG 2.2, success criterion 1.4.6 (enhanced), for text of any size."""
LEAST_TARGET = 48
LEAST_TALLY = 64
"""CSS pixels, as the design of the field screens has it (WCAG 2.2, 2.5.5, asks for 44)."""


def faults_of(page: Page) -> list[str]:
    """Give every fault of the screen as it stands: in both lights, on a small phone, and with text twice as large."""
    found: list[str] = []
    for light in ("sun", "dusk"):
        page.evaluate("light => { document.documentElement.dataset.light = light; }", light)
        found += [f"{light}: {one}" for one in axe_faults(page)]
        found += [f"{light}: {one}" for one in page.evaluate(CONTRAST, LEAST_CONTRAST)]
    page.evaluate("document.documentElement.dataset.light = 'sun'")
    found += page.evaluate(TARGETS, [LEAST_TARGET, LEAST_TALLY])
    whole = page.viewport_size
    assert whole is not None
    for width, text in ((320, "100%"), (whole["width"], "200%"), (320, "200%")):
        page.set_viewport_size({"width": width, "height": 640})
        page.evaluate("size => { document.documentElement.style.fontSize = size; }", text)
        # The page has to be laid out anew, and what watches its size to be told.
        page.evaluate("new Promise((drawn) => requestAnimationFrame(() => requestAnimationFrame(drawn)))")
        found += [f"{width} px, text at {text}: {one}" for one in page.evaluate(SIDEWAYS)]
    page.evaluate("document.documentElement.style.fontSize = ''")
    page.set_viewport_size(whole)
    return found


def axe_faults(page: Page) -> list[str]:
    """Give what axe finds, with the elements it is about."""
    violations: list[dict[str, Any]] = Axe().run(page).response["violations"]
    return [f"axe {one['id']}: {one['help']}: {[node['html'][:120] for node in one['nodes']]}" for one in violations]


SEEN = """
  const open = [...document.querySelectorAll("dialog[open]")].at(-1);
  const scope = open ?? document.body;
  const seen = (element) => {
    const box = element.getBoundingClientRect();
    return element.checkVisibility({ checkVisibilityCSS: true }) && box.width > 1 && box.height > 1
      && element.closest(".aloud") === null;
  };
  const named = (element) => {
    const words = element.getAttribute("aria-label") ?? element.textContent ?? "";
    return `${element.tagName.toLowerCase()}.${element.className} “${words.trim().replace(/\\s+/g, " ").slice(0, 50)}”`;
  };
"""

# Relative luminance and contrast ratio as WCAG 2.2 defines them.
CONTRAST = (
    "(least) => {"
    + SEEN
    + """
  const drawing = document.createElement("canvas").getContext("2d", { willReadFrequently: true });
  const parts = (color) => {
    drawing.clearRect(0, 0, 1, 1);
    drawing.fillStyle = color;
    drawing.fillRect(0, 0, 1, 1);
    const [r, g, b, a] = drawing.getImageData(0, 0, 1, 1).data;
    return { rgb: [r, g, b], alpha: a / 255 };
  };
  const over = (above, below) => above.rgb.map((part, at) => part * above.alpha + below[at] * (1 - above.alpha));
  const behind = (element) => {
    const layers = [];
    for (let one = element; one !== null; one = one.parentElement) {
      const layer = parts(getComputedStyle(one).backgroundColor);
      layers.push(layer);
      if (layer.alpha === 1 || one === open) break;
    }
    return layers.reduceRight((below, layer) => over(layer, below), [255, 255, 255]);
  };
  const luminance = (rgb) => {
    const [r, g, b] = rgb.map((part) => {
      const share = part / 255;
      return share <= 0.04045 ? share / 12.92 : ((share + 0.055) / 1.055) ** 2.4;
    });
    return 0.2126 * r + 0.7152 * g + 0.0722 * b;
  };
  const ratio = (one, other) => {
    const [dark, bright] = [luminance(one), luminance(other)].sort((a, b) => a - b);
    return (bright + 0.05) / (dark + 0.05);
  };
  const told = new Set();
  let looked = 0;
  const look = (element, color, what) => {
    const ground = behind(element);
    const found = ratio(over(parts(color), ground), ground);
    looked += 1;
    if (found < least) told.add(`contrast of ${what} is ${found.toFixed(2)}: ${color} on ${ground.map(Math.round)}`);
    for (let one = element; one !== null; one = one.parentElement) {
      if (getComputedStyle(one).opacity !== "1") told.add(`${what} is see-through`);
    }
  };
  const texts = document.createTreeWalker(scope, NodeFilter.SHOW_TEXT);
  for (let node = texts.nextNode(); node !== null; node = texts.nextNode()) {
    const element = node.parentElement;
    if (node.textContent.trim() === "" || !seen(element) || element.closest("script, style") !== null) continue;
    look(element, getComputedStyle(element).color, named(element));
  }
  for (const field of scope.querySelectorAll("input, textarea, select")) {
    if (!seen(field)) continue;
    look(field, getComputedStyle(field).color, named(field));
    if (field.placeholder) look(field, getComputedStyle(field, "::placeholder").color, `placeholder of ${named(field)}`);
  }
  if (looked === 0) told.add("there is no text to look at");
  return [...told];
}"""
)

TARGETS = (
    "([least, tally]) => {"
    + SEEN
    + """
  const told = [];
  for (const one of scope.querySelectorAll("button, a[href], input, select, textarea, summary")) {
    if (!seen(one)) continue;
    // A tick is touched by its whole label; a link within a sentence has the height of the sentence.
    const ticked = one.matches("input[type=checkbox], input[type=radio]");
    const target = ticked ? (one.closest("label") ?? one) : one;
    if (one.matches("a") && getComputedStyle(one).display === "inline" && one.parentElement.matches("p, li, span")) continue;
    const { width, height } = target.getBoundingClientRect();
    const wanted = one.matches(".zone, .zones button") ? tally : least;
    if (Math.min(width, height) < wanted - 0.1) {
      told.push(`${named(one)} is ${width.toFixed(0)} by ${height.toFixed(0)} px, less than ${wanted}`);
    }
  }
  return told;
}"""
)

SIDEWAYS = (
    "() => {"
    + SEEN
    + """
  const told = [];
  const page = document.documentElement;
  for (const one of document.querySelectorAll("footer")) {
    const share = one.getBoundingClientRect().height / innerHeight;
    if (getComputedStyle(one).position === "sticky" && share > 0.4) told.push(`the buttons cover ${share.toFixed(2)} of the screen`);
  }
  if (page.scrollWidth > page.clientWidth) told.push(`the page is ${page.scrollWidth} px wide`);
  if (open !== undefined && open.scrollWidth > open.clientWidth) told.push(`the panel is ${open.scrollWidth} px wide`);
  for (const one of scope.querySelectorAll("button, a, summary, label, legend, select, h1, h2, h3, p, li, output")) {
    if (!seen(one)) continue;
    const box = one.getBoundingClientRect();
    if (one.scrollWidth > one.clientWidth + 1 && getComputedStyle(one).display !== "inline") {
      told.push(`${named(one)} runs out of its box: ${one.scrollWidth} in ${one.clientWidth} px`);
    } else if ((box.right > page.clientWidth + 1 || box.left < -1) && one.closest(".wide-table") === null) {
      told.push(`${named(one)} stands beside the screen`);
    }
  }
  return told;
}"""
)
