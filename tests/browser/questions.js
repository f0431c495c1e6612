// What a page is asked. Each answer is a list of what is wrong; an empty one is right.
(() => {
  const texts = () => {
    const all = [], walker = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
    while (walker.nextNode()) {
      const node = walker.currentNode, parent = node.parentElement;
      if (node.data.trim() && !parent.closest('style, script, title, desc')) all.push([node, parent]);
    }
    return all;
  };
  const named = (node) => node.data.trim().slice(0, 40) + ' in ' + node.parentElement.tagName;
  const colour = (text) => {
    const parts = text.match(/^rgba?\(([\d.]+), ([\d.]+), ([\d.]+)(?:, ([\d.]+))?\)$/);
    return parts ? parts.slice(1).map((part, index) => part === undefined ? 1 : Number(part)) : [0, 0, 0, 0];
  };
  const over = (top, below) => {
    const alpha = top[3];
    return [0, 1, 2].map((i) => alpha * top[i] + (1 - alpha) * below[i]).concat(1);
  };
  // Relative luminance and contrast ratio: W3C, WCAG 2.2, from memory.
  const luminance = (rgb) => {
    const [r, g, b] = rgb.slice(0, 3).map((c) => c / 255).map((c) => c <= 0.04045 ? c / 12.92 : ((c + 0.055) / 1.055) ** 2.4);
    return 0.2126 * r + 0.7152 * g + 0.0722 * b;
  };
  const ratio = (a, b) => {
    const [low, high] = [luminance(a), luminance(b)].sort((x, y) => x - y);
    return (high + 0.05) / (low + 0.05);
  };
  const paint = (element) => {
    const style = getComputedStyle(element);
    if (element instanceof SVGGeometryElement) {
      const fill = colour(style.fill);
      return [fill[0], fill[1], fill[2], fill[3] * Number(style.fillOpacity) * Number(style.opacity)];
    }
    return element instanceof SVGElement ? [0, 0, 0, 0] : colour(style.backgroundColor);
  };
  const ancestors = (element) => element ? [element, ...ancestors(element.parentElement)] : [];
  // What lies under a text, from the top down.
  const under = (node, element) => {
    const range = document.createRange();
    range.selectNodeContents(node);
    const box = range.getClientRects()[0] || element.getBoundingClientRect();
    const stack = document.elementsFromPoint(box.left + box.width / 2, box.top + box.height / 2);
    const own = stack.indexOf(element);
    return own < 0 ? [ancestors(element), false] : [stack.slice(own), true];
  };
  window.questions = {
    unfold() {
      document.querySelectorAll('details').forEach((one) => { one.open = true; });
      return Math.ceil(document.documentElement.scrollHeight);
    },
    contrast() {
      let hit = 0;
      const wrong = texts().flatMap(([node, element]) => {
        const style = getComputedStyle(element);
        const [stack, isHit] = under(node, element);
        hit += isHit;
        const background = stack.map(paint).reverse().reduce((below, top) => over(top, below), [255, 255, 255, 1]);
        const ink = over(colour(element instanceof SVGElement ? style.fill : style.color), background);
        const found = ratio(ink, background);
        return found < 4.5 ? [named(node) + ': ' + found.toFixed(2)] : [];
      });
      return { wrong, hit, all: texts().length };
    },
    overflow() {
      const root = document.documentElement;
      const wide = [...document.body.querySelectorAll('*')].filter((element) => {
        const box = element.getBoundingClientRect();
        return box.width > 0 && box.right > root.clientWidth + 0.5 && !element.parentElement.closest('.scroll');
      });
      const names = wide.map((element) => element.tagName + ' ' + (element.id || element.className));
      return root.scrollWidth > root.clientWidth ? names.concat('the page') : names;
    },
    selectable() {
      getSelection().selectAllChildren(document.body);
      return texts().flatMap(([node, element]) => {
        const style = getComputedStyle(element);
        const can = style.userSelect !== 'none' && style.pointerEvents !== 'none' && getSelection().containsNode(node);
        return can ? [] : [named(node)];
      });
    },
    focus() {
      const all = [...document.querySelectorAll('a[href], summary, [tabindex]')];
      return all.flatMap((element) => {
        element.focus({ focusVisible: true });
        const style = getComputedStyle(element);
        const seen = document.activeElement === element && style.outlineStyle !== 'none' && parseFloat(style.outlineWidth) >= 2;
        return seen ? [] : [element.outerHTML.slice(0, 80)];
      });
    },
  };
})()
