// A position of a cycle walk leaves the form for the outbox, and what then becomes of it.
(function () {
    "use strict";
    const { $, element } = window.dom;
    const walk = (window.walk = window.walk || {});

    function save() {
        const { record } = walk.form;
        if (!/^(open|back)$/.test(record.state)) {
            return;
        }
        const body = walk.body();
        if (!Object.keys(body.typed).length) {
            walk.startAnew();
            answer("plain", "Nothing was changed here, so nothing is saved.");
            return;
        }
        walk.form.strict = true;
        Object.assign(record, { said: null, body: body, tab: window.hands.tab });
        freeze(true);
        answer("plain", `Saving ${record.name} …`);
        window.outbox.send(record);
    }

    function freeze(on) {
        $("walk-form").inert = on;
        $("walk-save").textContent = on ? "Saving …" : "Save this position";
    }

    function answer(kind, text, ...more) {
        const box = element("div", "", { className: "note " + kind }, element("p", text));
        $("walk-answer").replaceChildren(box, ...more);
    }

    // What the outbox tells of a record.
    function became({ what, record, said, back }) {
        if (!walk.isOurs(record)) {
            return;
        }
        const mine = record.key === walk.form.record.key;
        takeState(said);
        if (mine && what === "saved") {
            done(said);
        } else if (mine && what === "back") {
            walk.take(back);
            lead();
        } else if (mine && !$("walk-form").hidden) {
            const text = "is on this phone and not in the log yet. It goes in as soon as the server answers: go on.";
            goOn("warn", `${walk.station().words}: this ${text}`, "Back to what was typed");
        } else {
            walk.refresh();
        }
    }

    // What the log has of this end now.
    function takeState(said) {
        const { data } = walk.form;
        if (said && said.state && said.state.end === data.state.end) {
            data.state = said.state;
        }
    }

    // To the first thing that stands in the way.
    function lead() {
        const [fault] = walk.form.faults;
        const asked = document.querySelector("#walk-form .note.warn");
        if (fault) {
            walk.focus(fault.place, fault.field);
        } else if (asked) {
            asked.scrollIntoView({ block: "center" });
        }
    }

    function done(said) {
        walk.form.record.state = "saved";
        takeState(said);
        goOn("good", said.saved || "It is saved.", "Back to what was saved");
    }

    // The position is out of hand: offer the next one, without asking the server for another page.
    function goOn(kind, text, back) {
        const { at } = walk.form;
        const next = following(at);
        const open = !$("walk-form").hidden;
        walk.refresh();
        $("walk-form").hidden = true;
        const on = next < 0 ? "All is looked at at this end." : walk.link("Next: " + walk.station(next).words, next);
        answer(kind, text, element("p", "", {}, on), element("p", "", {}, walk.link(back, at)));
        if (open) {
            $("walk-station").scrollIntoView({ block: "start" }); // a long form is gone from under the thumb
        }
    }

    // The next position, round and round, at which something is missing that is not on its way already.
    function following(at) {
        const { length } = walk.form.data.state.stations;
        const round = Array.from({ length }, (_, i) => (at + 1 + i) % length);
        const next = round.find((one) => walk.station(one).left && !walk.recordsAt(one, "waiting").length);
        return next === undefined ? -1 : next;
    }

    Object.assign(walk, { save, freeze, answer, became, done });
})();
