// What a page looks like to hands and eyes: each function gives what is too small or too faint.
({
  narrow() {
    const touched = 'button, select, input:not([type=file]):not([type=checkbox]), a, .button';
    return [...document.querySelectorAll(touched)].filter((e) => e.checkVisibility())
      .map((e) => [e.id || e.textContent, e.getBoundingClientRect().width, e.getBoundingClientRect().height])
      .filter(([, wide, high]) => wide < 48 || high < 48);
  },
  written() {
    return [...document.querySelectorAll('body *')].filter((e) => e.checkVisibility() && !e.closest('svg')
      && [...e.childNodes].some((n) => n.nodeType === 3 && n.textContent.trim()));
  },
  small() {
    return this.written().map((e) => [e.id || e.tagName, parseFloat(getComputedStyle(e).fontSize)])
      .filter(([, size]) => size < 16);
  },
  light(colour) { // relative luminance, WCAG 2.2
    const [r, g, b] = colour.match(/[0-9.]+/g).slice(0, 3).map((c) => c / 255)
      .map((c) => (c <= 0.04045 ? c / 12.92 : ((c + 0.055) / 1.055) ** 2.4));
    return 0.2126 * r + 0.7152 * g + 0.0722 * b;
  },
  ground(of) {
    for (let e = of; e; e = e.parentElement) {
      const colour = getComputedStyle(e).backgroundColor;
      if (!/, 0\)|transparent/.test(colour)) return colour;
    }
    return getComputedStyle(document.documentElement).backgroundColor;
  },
  faint() {
    return this.written().map((e) => {
      const [a, b] = [this.light(getComputedStyle(e).color), this.light(this.ground(e))];
      return [e.id || e.textContent, (Math.max(a, b) + 0.05) / (Math.min(a, b) + 0.05)];
    }).filter(([, ratio]) => ratio < 7);
  },
  all() { return { narrow: this.narrow(), small: this.small(), faint: this.faint() }; },
})
