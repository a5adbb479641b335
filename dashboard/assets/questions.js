// What is asked before a run is saved: one tap keeps it as it is, one goes to its field.
(function () {
    "use strict";
    const { element, button } = window.dom;

    // asked: {key, text, corner, field}; kept(one), keep(one), drop(one), change(one); last: keeping it saves the run.
    function draw(place, asked, act, last) {
        const drawn = JSON.stringify([last, ...asked.map((one) => [one.key, act.kept(one)])]);
        if (place.dataset.drawn === drawn) {
            // A button that is drawn anew under a finger loses its tap: where only the words changed, only they are.
            asked.forEach((one, i) => act.kept(one) || (place.children[i].firstChild.textContent = one.text));
            return;
        }
        place.dataset.drawn = drawn;
        place.replaceChildren(...asked.map((one) => (act.kept(one) ? keptLine(one, act) : question(one, act, last))));
    }

    function question(one, act, last) {
        const missing = one.key.startsWith("missing ");
        const keep = missing ? "Save the others" : last ? "Keep it and save" : "Keep it";
        const change = missing ? "Go on reading" : "Change it";
        const ways = [button(keep, () => act.keep(one, last || missing)), " ", button(change, () => act.change(one))];
        return element("div", "", { className: "note warn" }, element("p", one.text), ...ways);
    }

    function keptLine(one, act) {
        const doubtful = one.field && one.field !== "preload";
        const text = doubtful ? "Kept as read: it goes in as doubtful and stays out of the fit. " : "Kept as it is. ";
        return element("p", text, { className: "more" }, button("Change it", () => act.drop(one)));
    }

    window.questions = { draw };
})();
