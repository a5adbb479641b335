// A run leaves the form for the outbox, and what then becomes of it.
(function () {
    "use strict";
    const { $, say, element, button } = window.dom;
    const run = (window.run = window.run || {});

    function save() {
        const { form } = run;
        if (!/^(open|back)$/.test(form.record.state)) {
            return;
        }
        form.strict = true;
        const missing = run.CORNERS.filter((corner) => !run.isRead(corner));
        if (missing.length === run.CORNERS.length) {
            answer("bad", "Nothing is read yet. Write the height from the frame mark to the axle mark.");
            return;
        }
        const key = "missing " + missing.join(",");
        if (missing.length && !form.record.confirmed.includes(key)) {
            const text = `${listed(missing)} not read: save the other corners alone?`;
            form.missing = { key: key, corner: "", field: "", text: text };
            run.showAsked();
            return;
        }
        Object.assign(form.record, { said: null, body: run.body(), tab: window.hands.tab });
        freeze(true);
        answer("plain", `Saving ${form.record.name} …`);
        window.outbox.send(form.record);
    }

    const listed = (names) => names.join(", ").replace(/, (..)$/, " and $1");

    function freeze(on) {
        $("log-form").inert = on;
        $("log-save").textContent = on ? "Saving …" : "Save the run";
    }

    function answer(kind, text, ...more) {
        const box = element("div", "", { className: "note " + kind }, element("p", text));
        $("log-answer").replaceChildren(box, ...more);
    }

    // What the outbox tells of a record.
    function became({ what, record, said, back }) {
        if (record.key !== run.form.record.key) {
            return;
        }
        if (what === "saved") {
            done(said);
        } else if (what === "back") {
            run.take(back);
            lead();
        } else if (!$("log-form").hidden) {
            const text = "is on this phone and not in the log yet. It goes in as soon as the server answers: leave it, or go on.";
            goOn("warn", `Run ${record.name} ${text}`);
        }
    }

    // To the first thing that stands in the way.
    function lead() {
        const fault = Object.keys(run.form.errors)[0];
        const asked = document.querySelector("#log-form .note.warn");
        if (fault) {
            run.focus(fault);
        } else if (asked) {
            asked.scrollIntoView({ block: "center" });
        }
    }

    function done(said) {
        run.form.record.state = "saved";
        const text = said.saved || "It is saved.";
        const query = "?truck=" + encodeURIComponent(run.form.data.truck);
        const link = (words, path) => element("a", words, { href: path + query, className: "go" });
        const links = element("p", "", {}, link("See what to turn", "/adjust"), link("See the fit", "/corners"));
        goOn(text.includes("doubtful") ? "warn" : "good", text, links);
    }

    // The run is out of hand: offer the next one, without asking the server for another page.
    function goOn(kind, text, ...more) {
        const { form } = run;
        const { name } = form.record;
        run.CORNERS.filter(run.isRead).forEach((corner) => remember(corner, name));
        form.defaults.note = "";
        form.data = Object.assign({}, form.data, { turned: {}, named: false, run: following(name) });
        say("log-run", { description: `Last was ${name}.` });
        history.replaceState(history.state, "", "/log?truck=" + encodeURIComponent(form.data.truck));
        $("log-form").hidden = true;
        const again = button("Read again in " + name, () => run.fresh(name));
        const next = button("Log the next run", () => run.fresh(following(name)));
        answer(kind, text, element("p", "", { className: "ends" }, again, next), ...more);
    }

    // What was read last stands beside the fields of the next run, and the nuts are where they were.
    function remember(corner, name) {
        const { form } = run;
        const heights = run.heightsOf(corner).map((height) => run.value(height).trim());
        const height = heights.filter(Boolean).pop();
        if (height) {
            form.before[corner + "-height"] = height;
            say(`log-${corner}-height`, { description: `${name}: ${withUnit(height)}` });
        }
        const load = run.value(corner + "-load").trim();
        if (load) {
            say(`log-${corner}-load`, { description: `${name}: ${load}` });
        }
        const nut = run.value(corner + "-preload").trim();
        if (nut) {
            form.defaults[corner + "-preload"] = nut;
            form.defaults[corner + "-stack"] = run.value(corner + "-stack");
            say(`log-${corner}-preload`, { description: `as in ${name}: ${withUnit(nut)}` });
        }
    }

    const withUnit = (text) => (/[a-z"]/i.test(text) ? text : text + run.unit());

    // r4 after r3; "after lunch 2" after "after lunch".
    function following(name) {
        const [, stem, number] = /^(.*?)(\d{0,9})$/.exec(name);
        return number ? stem + (Number(number) + 1) : name + " 2";
    }

    Object.assign(run, { save, freeze, answer, became, done });
})();
