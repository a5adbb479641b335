// Buttons for the length field in hand: a sixteenth up or down, any sixteenth of the inch, what was advised.
(function () {
    "use strict";
    const { element, button } = window.dom;
    const STEP = { us: "1/16 in", metric: "1 mm" };

    function remove() {
        document.querySelectorAll(".pad").forEach((pad) => pad.remove());
    }

    // field: its name and words, units, text(), the reading before, what is advised, and write(text).
    function show(place, field) {
        if (place.firstChild && place.dataset.field === field.name) {
            return;
        }
        remove();
        place.dataset.field = field.name;
        const rows = [element("div", "", { className: "steps" }, ...steps(field))];
        if (field.units === "us") {
            rows.push(element("div", "", { className: "parts" }, ...sixteenths(field)));
        }
        place.append(element("div", "", { className: "pad", role: "group", ariaLabel: field.words }, ...rows));
    }

    function steps(field) {
        const part = STEP[field.units];
        const step = (ways) => () => field.write(window.tape.step(field.text(), ways, field.before, field.units));
        const keys = [
            key("− " + part, field.words + " less " + part, step(-1)),
            key("+ " + part, field.words + " more " + part, step(1)),
        ];
        if (field.advised) {
            keys.push(key("advised " + field.advised, field.words + " as advised", () => field.write(field.advised)));
        }
        return keys;
    }

    function sixteenths(field) {
        return Array.from({ length: 16 }, (_, parts) => {
            const text = window.tape.write(parts / 16, "us");
            const press = () => field.write(window.tape.sixteenths(field.text(), parts, field.before, "us"));
            return key(text, field.words + " and " + text, press);
        });
    }

    // The field keeps the focus and the phone its keypad. Who uses a keyboard types, or presses up and down.
    function key(text, label, action) {
        const still = (event) => event.preventDefault();
        return button(text, action, { className: "tap", tabIndex: -1, ariaLabel: label, onpointerdown: still });
    }

    window.pad = { show, remove };
})();
