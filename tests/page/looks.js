// What is wrong with the page as it looks now: a list of words, empty where nothing is.
() => {
  const wrong = [];
  const say = (what, el) => wrong.push(`${what}: ${el.tagName} ${el.id || el.className?.baseVal || el.className} "${(el.textContent || "").trim().slice(0, 30)}"`);
  const seen = (el) => {
    if (!el.checkVisibility({ opacityProperty: false, visibilityProperty: true })) return false;
    const box = el.getBoundingClientRect();
    return box.width > 1 && box.height > 1 && box.right > 0;
  };
  if (document.documentElement.scrollWidth > innerWidth) wrong.push(`scrolls sideways: ${document.documentElement.scrollWidth}`);
  for (const el of document.querySelectorAll("a, button, input:not([type=hidden]), select, textarea, summary")) {
    if (!seen(el)) continue;
    const box = (el.closest("label") || el).getBoundingClientRect();
    if (box.height < 43.9 || box.width < 43.9) say(`small, ${box.width.toFixed(0)} x ${box.height.toFixed(0)}`, el);
    if (box.right > innerWidth + 0.5) say("beyond the edge", el);
    if (el.tabIndex < 0 && !el.disabled) say("not reached by keyboard", el);
    if (el.labels && el.tagName !== "BUTTON" && !el.labels.length && !el.ariaLabel) say("no label", el);
    if ((!el.labels || el.tagName === "BUTTON") && !(el.textContent.trim() || el.ariaLabel)) say("no name", el);
  }
  const parts = (text) => (text.match(/[\d.]+/g) || [0, 0, 0, 0]).map(Number);
  const light = ([r, g, b]) => [r, g, b].map((v) => { v /= 255; return v <= 0.04045 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4; }).reduce((sum, v, k) => sum + v * [0.2126, 0.7152, 0.0722][k], 0);
  const behind = (el) => {
    for (let at = el; at; at = at.parentElement) {
      const [r, g, b, a = 1] = parts(getComputedStyle(at).backgroundColor);
      if (a > 0) return [r, g, b];
    }
    return [255, 255, 255];
  };
  const texts = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  while (texts.nextNode()) {
    const el = texts.currentNode.parentElement;
    if (!texts.currentNode.data.trim() || !seen(el) || el.closest(".unseen, title, desc, script, :disabled")) continue;
    const style = getComputedStyle(el), svg = el.ownerSVGElement;
    const size = parseFloat(style.fontSize) * (svg ? svg.getBoundingClientRect().width / svg.viewBox.baseVal.width : 1);
    if (size < 15.9) say(`text of ${size.toFixed(1)} px`, el);
    const backs = [behind(svg || el)];
    const band = svg && svg.querySelector(".window");
    if (band) backs.push(parts(getComputedStyle(band).fill));
    for (const back of backs) {
      const [a, b] = [light(parts(svg ? style.fill : style.color)), light(back)];
      const ratio = (Math.max(a, b) + 0.05) / (Math.min(a, b) + 0.05);
      if (ratio < 4.5) say(`contrast ${ratio.toFixed(2)}`, el);
    }
  }
  for (const el of document.querySelectorAll(".rows:not(.still) .id")) {
    if (seen(el) && parseFloat(getComputedStyle(el).fontSize) < 20) say("id below 20 px", el);
  }
  const ids = [...document.querySelectorAll("[id]")].map((el) => el.id);
  for (const id of ids.filter((one, at) => ids.indexOf(one) !== at)) wrong.push(`id twice: ${id}`);
  for (const el of document.querySelectorAll("[aria-describedby], [aria-labelledby]")) {
    const named = [el.getAttribute("aria-describedby"), el.getAttribute("aria-labelledby")].filter(Boolean);
    for (const id of named.flatMap((one) => one.split(" "))) if (!document.getElementById(id)) say(`names ${id}, which is not there`, el);
  }
  if (document.querySelectorAll("h1").length !== 1) wrong.push("not one h1");
  return wrong;
}
