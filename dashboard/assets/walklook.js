// How what is typed of a cycle walk looks to the server: faults at their fields, and where somebody else put down
// something meanwhile. Where it does not answer, that is said, and the form goes on.
(function () {
    "use strict";
    const { $, say, element, button, released } = window.dom;
    const walk = (window.walk = window.walk || {});

    async function look() {
        const { form } = walk;
        const { record } = form;
        const sent = walk.body();
        const text = textOf(sent);
        if (text === form.looked) {
            return;
        }
        form.looked = text;
        if (!Object.keys(sent.typed).length) {
            showLook({});
            return;
        }
        const { said, trouble } = await window.outbox.ask("/api/walk/check", sent);
        await released();
        if (form !== walk.form || form.record !== record || textOf(walk.body()) !== text || record.state === "waiting") {
            return; // it speaks of something else than what stands here now
        }
        if (said && !said.refused) {
            showLook(said);
        } else {
            form.looked = "";
            const why = trouble || said.error;
            $("walk-unchecked").textContent = `Not checked yet. ${why} Go on: it is looked at when it is saved.`;
        }
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
