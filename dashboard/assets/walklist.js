// What a cycle walk has found so far: how far each position is, what touches or is close, the cycle table.
(function () {
    "use strict";
    const { $, say, element } = window.dom;
    const walk = (window.walk = window.walk || {});
    const HERE = { back: "needs a look", waiting: "waits on this phone", open: "typed, not saved yet" };

    function showList() {
        const { state } = walk.form.data;
        const ours = window.outbox.all().filter(walk.isOurs);
        $("walk-stations").replaceChildren(...state.stations.map((one, at) => line(one, at, ours)));
        fill("walk-close", "walk-close-part", "li", state.close);
        fill("walk-cycle", "walk-cycle-part", "p", state.cycle);
        Object.entries(state.tallies).forEach(([end, text]) => say("walk-tally-" + end, { children: " " + text }));
    }

    function line(one, at, ours) {
        const words = one.words.slice(one.words.indexOf(": ") + 2);
        const link = walk.link(words[0].toUpperCase() + words.slice(1), at);
        if (at === walk.form.at) {
            link.setAttribute("aria-current", "step");
        }
        const here = ours.filter((record) => walk.isAt(record, one)).map((record) => record.state);
        const own = Object.keys(HERE).filter((state) => here.includes(state));
        const said = [...own.map((state) => HERE[state]), one.said].join("; ");
        return element("li", "", {}, link, element("span", said, { className: "more" }));
    }

    function fill(id, part, tag, lines) {
        $(id).replaceChildren(...lines.map((text) => element(tag, text)));
        $(part).hidden = !lines.length;
    }

    walk.showList = showList;
})();
