// Lengths as a tape shows them, only to step them and to average them: what counts is how the server reads the text.
(function () {
    "use strict";
    const NUMBER = /^([+-]?) ?(?:(\d{1,6})[ -](\d{1,4})\/(\d{1,4})|(\d{1,4})\/(\d{1,4})|(\d{1,6}\.?\d{0,6}|\.\d{1,6}))$/;
    const UNIT = { us: /\s*(?:in|")$/, metric: /\s*mm$/ };
    const PARTS = { us: 16, metric: 1 }; // a step is one of so many parts of the unit

    // 24 5/8, 24-5/8, 5/8 or 24.625 as a number; null where it is something else, which may still be right.
    function read(text, units) {
        const plain = text.trim().replace(/\s+/g, " ").replace(UNIT[units], "");
        const found = NUMBER.exec(plain);
        if (!found) {
            return null;
        }
        const [, sign, whole, over, under, top, bottom, decimal] = found;
        const size =
            decimal !== undefined
                ? Number(decimal)
                : whole !== undefined
                  ? Number(whole) + Number(over) / Number(under)
                  : Number(top) / Number(bottom);
        const fair = whole === undefined || Number(over) < Number(under);
        return fair && Number.isFinite(size) ? (sign === "-" ? -size : size) : null;
    }

    // The same as it would be typed: a tape's fraction where it is one, or else decimals.
    function write(value, units) {
        const parts = Math.round(Math.abs(value) * 16);
        if (units === "us" && Math.abs(Math.abs(value) * 16 - parts) < 1e-4) {
            const sign = value < 0 && parts ? "-" : "";
            return sign + fraction(parts);
        }
        return String(Number(value.toFixed(4)));
    }

    function fraction(parts) {
        const whole = Math.floor(parts / 16);
        let over = parts % 16;
        let under = 16;
        while (over && over % 2 === 0) {
            over /= 2;
            under /= 2;
        }
        return [whole || !over ? whole : "", over ? over + "/" + under : ""].join(" ").trim();
    }

    // So many steps up or down; from the reading before where nothing is typed. What can't be read stays as it is.
    function step(text, ways, before, units) {
        const from = text.trim() ? read(text, units) : read(before || "", units);
        return from === null ? text : write(from + ways / PARTS[units], units);
    }

    // The same whole inches with another fraction; the whole inches of the reading before where nothing is typed.
    function sixteenths(text, parts, before, units) {
        const from = text.trim() ? read(text, units) : read(before || "", units) || 0;
        return from === null ? text : write(Math.trunc(from) + parts / 16, units);
    }

    window.tape = { read, write, step, sixteenths };
})();
