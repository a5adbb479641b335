// The fields of a cycle walk's form: which of them belong to the position in hand and what stands in them. `walk.form` is
// the open form (see walkform.js); what is typed lies in its record.
(function () {
    "use strict";
    const { $, say } = window.dom;
    const walk = (window.walk = window.walk || {});
    const PLACE = ["result", "clearance", "note", "photo"];
    const PAIR = ["height", "shaft"]; // under the empty place

    const fieldsOf = (place) => (place ? PLACE : PAIR);
    const sections = () => Array.from(document.querySelectorAll("#walk-form [data-place]"));
    const numberOf = (place) => sections().findIndex((section) => section.dataset.place === place);
    const idOf = (place, name) => (place ? `walk-${name}-${numberOf(place)}` : "walk-" + name);
    const station = (at) => walk.form.data.state.stations[at === undefined ? walk.form.at : at];

    // What the log has at a position and, over it, what waits on this phone to go in.
    function drawnAt(at) {
        const shown = Object.entries(station(at).shown).map(([place, texts]) => [place, Object.assign({}, texts)]);
        const drawn = Object.fromEntries(shown);
        for (const record of walk.recordsAt(at, "waiting")) {
            Object.entries(record.body.typed).forEach(([place, texts]) => Object.assign(drawn[place] || {}, texts));
        }
        return drawn;
    }

    function value(place, name) {
        const { record, drawn } = walk.form;
        return (record.typed[place] || drawn[place] || {})[name] || "";
    }

    function set(id, text) {
        const { painted } = walk.form;
        if (painted.get(id) !== text) {
            painted.set(id, text);
            say(id, { value: text });
        }
    }

    function paint() {
        const { wanted, words } = station();
        say("walk-station", { children: words });
        $("walk-pair").hidden = !wanted.includes("");
        PAIR.forEach((name) => set("walk-" + name, value("", name)));
        for (const section of sections()) {
            const place = section.dataset.place;
            section.hidden = !wanted.includes(place);
            PLACE.forEach((name) => set(idOf(place, name), value(place, name) || (name === "result" ? "open" : "")));
            section.querySelector("details").open = Boolean(value(place, "note") || value(place, "photo"));
        }
        set("walk-by", walk.form.record.by);
    }

    // Place and name of the field that an event comes from.
    function fieldAt(target) {
        const section = target.closest("[data-place]");
        if (target.type === "radio") {
            return [section.dataset.place, "result"];
        }
        return [section ? section.dataset.place : "", target.id.split("-")[1]];
    }

    function focus(place, name) {
        const control = $(idOf(place, name)) || $(idOf(place, "clearance"));
        const box = control && (control.matches("input") ? control : control.querySelector("input:checked"));
        if (box) {
            const fold = box.closest("details");
            if (fold) {
                fold.open = true;
            }
            box.focus();
        }
    }

    Object.assign(walk, { fieldsOf, sections, numberOf, idOf, station, drawnAt, value, set, paint, fieldAt, focus });
})();
