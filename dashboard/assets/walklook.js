// How what is typed of a cycle walk looks to the server (see looked.js): faults at their fields, and where somebody else
// put down something meanwhile.
(function () {
    "use strict";
    const { $, say, element, button } = window.dom;
    const walk = (window.walk = window.walk || {});

    function look() {
        const { form } = walk;
        const sent = walk.body();
        const text = textOf(sent);
        const nothing = !Object.keys(sent.typed).length;
        const still = () => form === walk.form && textOf(walk.body()) === text;
        const place = { route: "/api/walk/check", show: showLook, unchecked: "walk-unchecked" };
        return window.looked(form, { sent, text, nothing, still, ...place });
    }

    const textOf = ({ typed, shown, by }) => JSON.stringify([typed, shown, by]);

    function showLook(said) {
        $("walk-unchecked").textContent = "";
        showFaults(said.faults || []);
        walk.form.asked = said.asked || [];
        showAsked();
    }

    // Until a save was tried, what is not filled in yet is no error. What belongs to no field of its own stands below
    // its place.
    function showFaults(faults) {
        const before = walk.form.errors;
        const now = {};
        walk.form.faults = faults.filter(({ place, field }) => walk.form.strict || walk.value(place, field) || !field);
        for (const { place, field, text } of walk.form.faults) {
            const own = /^(clearance|photo|height|shaft)$/.test(field);
            if ((own || place) && field + place) {
                now[walk.idOf(place, own ? field : "said")] = text;
            }
        }
        for (const id of Object.keys(Object.assign({}, before, now))) {
            if (now[id] !== before[id] && $(id)) {
                say(id, $(id).matches("input") ? { error: now[id] || null } : { children: now[id] || "" });
            }
        }
        walk.form.errors = now;
    }

    // ---------------------------------------------------------------- what somebody else put down meanwhile

    const isKept = (one) => walk.form.record.confirmed.includes(one.key);

    function showAsked() {
        const spots = ["", ...walk.sections().map((section) => section.dataset.place)];
        for (const place of spots) {
            const spot = $(place ? walk.idOf(place, "asked") : "walk-asked-pair");
            const own = walk.form.asked.filter((one) => one.place === place);
            const drawn = JSON.stringify(own.map((one) => [one.key, one.text, isKept(one)]));
            if (spot && (spot.dataset.drawn || "[]") !== drawn) {
                spot.dataset.drawn = drawn; // a button that is drawn anew under a finger loses its tap
                spot.replaceChildren(...own.map(question));
            }
        }
    }

    function question(one) {
        if (isKept(one)) {
            return element("p", "Yours goes in; what was there before stays in the log's history.", { className: "more" });
        }
        const ways = [button("Keep mine", () => keepMine(one)), " ", button("Take what is there", () => takeTheirs(one))];
        return element("div", "", { className: "note warn" }, element("p", one.text), ...ways);
    }

    function keepMine(one) {
        walk.form.record.confirmed.push(one.key);
        walk.keep();
        showAsked();
        if (walk.form.strict && walk.form.asked.every(isKept)) {
            walk.save(); // it was on its way when this was asked
        }
    }

    function takeTheirs(one) {
        walk.form.asked = walk.form.asked.filter((other) => other !== one);
        showAsked();
        walk.untouch(one.place, one.there);
    }

    Object.assign(walk, { look, showLook });
})();
