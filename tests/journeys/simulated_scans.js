/**
 * Plays hand-held scanners to the state machine that reads them: every speed, ending, layout and
 * habit, two scans in quick succession, people typing in between. Gives what went wrong.
 */
async ([codes, seed]) => {
  const wedges = await import("/web/logic/wedge.js");

  // A small generator with a seed (mulberry32): the same run everywhere.
  let state = seed;
  const random = () => {
    state = (state + 0x6d2b79f5) | 0;
    let t = Math.imul(state ^ (state >>> 15), 1 | state);
    t = (t + Math.imul(t ^ (t >>> 7), 61 | t)) ^ t;
    return ((t ^ (t >>> 14)) >>> 0) / 4294967296;
  };
  const one = (list) => list[Math.floor(random() * list.length)];

  // What the computer makes of a US key, on layouts that differ (general knowledge of keyboards).
  const swap = (pairs) => (sign) => pairs[sign] ?? sign;
  const QWERTZ = swap({ Y: "Z", Z: "Y" });
  const AZERTY_DIGITS = ["à", "&", "é", '"', "'", "(", "-", "è", "_", "ç"];
  const AZERTY = (sign) =>
    /\d/.test(sign) ? AZERTY_DIGITS[sign] : swap({ A: "Q", Q: "A", Z: "W", W: "Z", M: "?" })(sign);
  const LAYOUTS = {
    same: { key: (sign) => sign, place: (sign) => sign },
    qwertz: { key: QWERTZ, place: (sign) => sign },
    azerty: { key: AZERTY, place: (sign) => sign },
    "both qwertz": { key: (sign) => sign, place: QWERTZ },
    "number pad": { key: (sign) => sign, place: (sign) => sign, pad: true },
  };

  const found = { scans: 0, lost: [], merged: [], misassigned: [], asked: 0, typedAsScan: [] };
  for (const [name, layout] of Object.entries(LAYOUTS)) {
    for (const prefix of ["", "]Q1"]) play(name, layout, prefix);
  }
  return found;

  function play(name, layout, prefix) {
    let wedge = wedges.newWedge();
    let at = 1000;
    const heard = [];
    const field = () => one(["none", "text", "scan", "secret"]);
    const strike = (key, code, more = {}) => {
      // The timer of the silence would have run before this key.
      const quiet = wedges.rest(wedge, at - 0.001, { prefix });
      wedge = quiet.wedge;
      heard.push(...quiet.bursts);
      const now = wedges.press(wedge, { key, code, at, ...more }, { prefix, field: here });
      wedge = now.wedge;
      heard.push(...now.bursts);
      return now.swallow;
    };
    let here = "none";
    const share = codes.filter((_, i) => i % 10 === Object.keys(LAYOUTS).indexOf(name) * 2 + (prefix ? 1 : 0));
    for (const code of share) {
      here = field();
      heard.length = 0;
      const gap = one([1, 5, 10, 20, 40]);
      const caps = random() < 0.3;
      const doubled = random() < 0.05 ? Math.floor(random() * code.length) : -1;
      const ending = one(["enter", "tab", "crlf", "lf", "none"]);
      const next = () => {
        at += gap * (0.85 + 0.3 * random());
      };
      const shifts = random() < 0.5;
      const signs = [...prefix, ...code];
      signs.forEach((sign, i) => {
        const times = doubled >= 0 && i - prefix.length === doubled ? 2 : 1;
        for (let time = 0; time < times; time += 1) {
          const letter = /[A-Z]/.test(sign);
          if (shifts && letter && gap <= 20) {
            strike("Shift", "ShiftLeft");
            next();
          }
          const key = i < prefix.length ? sign : layout.key(sign);
          const physical = layout.place(sign);
          const place = /\d/.test(physical)
            ? `${layout.pad ? "Numpad" : "Digit"}${physical}`
            : `Key${physical}`;
          strike(caps ? key.toLowerCase() : key, i < prefix.length ? "BracketRight" : place);
          next();
        }
      });
      if (ending === "tab") strike("Tab", "Tab");
      if (ending === "enter" || ending === "crlf") strike("Enter", "Enter");
      if (ending === "crlf") {
        next();
        const swallowed = strike("Enter", "Enter");
        if (doubled < 0 && !swallowed) found.merged.push([name, code, "the second Enter got through"]);
      }
      if (ending === "lf") strike("j", "KeyJ", { held: true });
      const quiet = wedges.rest(wedge, at + 70, { prefix });
      wedge = quiet.wedge;
      heard.push(...quiet.bursts);
      judge(name, code, doubled, heard);
      at += 150;
      if (random() < 0.2) type(strike);
    }

    /** A person types a word, or a code by hand, and presses Enter. */
    function type(strikeKey) {
      at += 400;
      heard.length = 0;
      for (const letter of one(["mossgrave", "two straws damaged", codes[0]])) {
        strikeKey(letter, /[a-z]/i.test(letter) ? `Key${letter.toUpperCase()}` : "Space");
        at += 70 + 200 * random();
      }
      if (strikeKey("Enter", "Enter")) found.typedAsScan.push([name, "Enter was held back"]);
      found.typedAsScan.push(...heard.filter((burst) => burst.read.ok || wedges.isScan(burst)));
      at += 400;
    }
  }

  function judge(name, code, doubled, heard) {
    found.scans += 1;
    const good = heard.filter((burst) => burst.read.ok);
    const wrong = good.filter((burst) => burst.read.code !== code);
    if (wrong.length) found.misassigned.push([name, code, wrong.map((burst) => burst.read.code)]);
    if (doubled >= 0) return;
    if (heard.length > 1) found.merged.push([name, code, heard.length]);
    if (good.length) return;
    if (heard.some((burst) => burst.read.problem === "two-ways")) found.asked += 1;
    else found.lost.push([name, code, heard.map((burst) => [burst.read.arrived, burst.read.problem])]);
  }
};
