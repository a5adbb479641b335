// The form of a run, alive in the browser alone: it goes on without a link. Which run is in hand, what was typed and
// when; a run is one record of the outbox from its first letter on.
(function () {
    "use strict";
    const { $, element, button, stored } = window.dom;
    const run = (window.run = window.run || {});
    const MINE = "tuning/mine"; // key of what this tab had in hand before a reload
    const ROUTE = "/api/runs";
    run.form = null;

    const live = () => run.form && run.form.record && $("log-form");

    // ---------------------------------------------------------------- which run is in hand

    // Called by the page when it is there. data: what it says of truck, log and last run.
    function open(data) {
        if (!data || !data.truck) {
            run.form = null;
            return "";
        }
        const form = { data: data, record: null, others: [], before: Object.assign({}, data.before) };
        form.defaults = Object.fromEntries(run.controls().map((control) => [run.nameOf(control), control.value]));
        Object.assign(form.defaults, { run: data.run, settled: "rolled", taken: "", note: data.note || "" });
        run.form = form;
        run.order();
        choose(window.outbox.linked());
        return "alive";
    }

    // Go on with what this tab had in hand, or else with what a closed one left; never with what another tab holds.
    async function choose(wanted) {
        const form = run.form;
        const { log, named } = form.data;
        const here = (one) => !named || one.values.run === form.data.run || one.key === wanted;
        const runs = window.outbox.all().filter((one) => one.route === ROUTE && one.log === log);
        const found = runs.filter((one) => one.state !== "waiting" && here(one));
        const free = await window.hands.free(found.map((one) => one.key));
        if (form !== run.form) {
            return;
        }
        const first = wanted || stored((_, session) => session.getItem(MINE));
        const rank = (one) => (one.key === first ? "2" : one.state === "back" ? "1" : "0") + one.begun;
        const mine = found.filter((one) => free.includes(one.key)).sort((a, b) => (rank(a) < rank(b) ? 1 : -1));
        form.others = mine.slice(1).filter((one) => one.state === "open"); // the status line has the rest
        if (mine.length) {
            take(mine[0]);
        } else {
            fresh(form.data.run);
        }
        showOthers();
    }

    function fresh(name) {
        const { log, truck, turned } = run.form.data;
        const query = "?truck=" + encodeURIComponent(truck);
        take({
            key: window.outbox.newKey(),
            route: ROUTE,
            state: "open",
            what: "run",
            log: log,
            truck: truck,
            name: name,
            page: "/log" + query,
            seen: "/corners" + query,
            begun: "",
            values: Object.assign({}, run.form.defaults, { run: name }),
            turned: JSON.stringify(turned),
            confirmed: [],
        });
    }

    function take(record) {
        const { form } = run;
        Object.assign(form, { record: record, strict: record.state === "back", open: {}, looked: "" });
        Object.assign(form, { errors: form.errors || {}, asked: [], missing: null });
        record.values = Object.assign({}, form.defaults, record.values);
        if (record.begun) {
            putTurned(record);
            keep();
        }
        stored((_, session) => session.setItem(MINE, record.key));
        window.outbox.hold(record.key);
        window.pad.remove();
        run.paint();
        run.freeze(false);
        $("log-form").hidden = false;
        run.showLook(record.said || {});
        if (record.state === "back") {
            run.answer("bad", record.said.error);
        } else if (record.begun) {
            run.answer("plain", "This is what you typed before; it is not saved yet.");
            run.look();
        } else {
            $("log-answer").replaceChildren();
        }
    }

    // Nuts that were turned since this run was begun stand where the address says.
    function putTurned(record) {
        const { turned, note } = run.form.data;
        const said = JSON.stringify(turned);
        if (said !== "{}" && record.turned !== said) {
            Object.assign(record.values, turned, { note: record.values.note || note });
            record.turned = said;
        }
    }

    function showOthers() {
        const lines = run.form.others.map((record) => {
            const text = `Also not saved yet: ${record.name}, begun ${window.clock.shown(record.begun)}. `;
            const go = button("Go on with it", () => choose(record.key));
            return element("p", text, {}, go, " ", button("Throw it away", () => throwAway(record)));
        });
        $("log-others").className = lines.length ? "note plain" : "";
        $("log-others").replaceChildren(...lines);
    }

    function throwAway(record) {
        if (window.outbox.throwAway(record)) {
            run.form.others = run.form.others.filter((one) => one !== record);
            showOthers();
        }
    }

    function clear() {
        if (run.form.record.begun && window.outbox.throwAway(run.form.record)) {
            fresh(run.form.data.run);
        }
    }

    // Another tab may have taken over, sent or thrown away what this one shows.
    function stillMine() {
        const record = live() && run.form.record;
        if (!record || !record.begun || record.state === "saved") {
            return;
        }
        const now = window.outbox.get(record.key);
        if (record.state === "waiting") {
            if (!now) {
                run.done((window.outbox.lastSaved() || { said: {} }).said);
            } else if (now.state === "back") {
                take(now);
            }
        } else if (!now || (now.tab !== window.hands.tab && now.state !== "waiting")) {
            fresh(run.form.data.run);
            run.answer("plain", "What stood here went on in another tab.");
        }
    }

    // ---------------------------------------------------------------- what is typed

    function keep() {
        run.form.record.tab = window.hands.tab;
        window.outbox.put(run.form.record);
    }

    function changed(name, text) {
        const { record } = run.form;
        record.values[name] = text;
        if (!record.begun) {
            record.begun = window.clock.stamp(new Date());
            run.set("taken", window.clock.shown(record.begun));
        }
        record.name = run.value("run").trim();
        keep();
        if (name.includes("-height")) {
            run.showRepeats(name.slice(0, 2));
        }
        if (run.form.missing) {
            run.form.missing = null;
            run.showAsked();
        }
    }

    // As the server reads it. A time left as it was put in is the moment of the first letter, to the second.
    function body() {
        const { data, record } = run.form;
        const corners = {};
        for (const corner of run.CORNERS) {
            const own = Object.entries(record.values).filter(([name]) => name.startsWith(corner + "-"));
            corners[corner] = Object.fromEntries(own.map(([name, text]) => [name.slice(3), text]));
        }
        const typed = run.value("taken").trim();
        const taken = typed === window.clock.shown(record.begun) ? record.begun : typed;
        return {
            key: record.key,
            log: data.log,
            truck: data.truck,
            run: run.value("run"),
            taken_at: data.zoned ? window.clock.zoned(taken) : taken,
            settled: run.value("settled") === "rolled" ? "" : run.value("settled"),
            note: run.value("note"),
            corners: corners,
            confirmed: record.confirmed,
        };
    }

    // ---------------------------------------------------------------- events

    const inForm = (target) => live() && target.closest && target.closest("#log-form");
    const fieldOf = (target) => (inForm(target) && target.id.startsWith("log-") ? run.nameOf(target) : "");

    function typed(event) {
        const target = event.target;
        const name = fieldOf(target);
        if (name) {
            changed(name, target.value);
        } else if (inForm(target) && target.id === "walk-start") {
            run.order(target.value);
        } else if (inForm(target) && target.type === "radio" && target.checked) {
            changed("settled", target.value);
        }
    }

    function pressed(event) {
        const name = fieldOf(event.target);
        const ways = { ArrowUp: 1, ArrowDown: -1 }[event.key];
        if (name && ways && run.isLength(name)) {
            event.preventDefault();
            run.step(name, ways);
        } else if (name && event.key === "Enter") {
            event.preventDefault();
            const seen = run.controls().filter((control) => control.offsetParent);
            (seen[seen.indexOf(event.target) + 1] || $("log-save")).focus();
        }
    }

    function clicked(event) {
        const pressedButton = live() && event.target.closest("button");
        const id = pressedButton ? pressedButton.id : "";
        if (id === "log-save") {
            run.save();
        } else if (id === "log-clear") {
            clear();
        } else if (id.startsWith("again-")) {
            run.readAgain(id.slice("again-".length));
        }
    }

    document.addEventListener("input", typed);
    document.addEventListener("change", typed);
    document.addEventListener("keydown", pressed);
    document.addEventListener("click", clicked);
    document.addEventListener("focusin", (event) => {
        const name = event.target.tagName === "INPUT" && fieldOf(event.target);
        if (name) {
            run.showPad(name);
        }
    });
    document.addEventListener("focusout", (event) => inForm(event.target) && run.look());
    document.addEventListener("outbox", (event) => live() && run.became(event.detail));
    window.addEventListener("storage", stillMine);
    document.addEventListener("outbox-look", (event) => {
        const { route, log, key } = event.detail;
        if (live() && route === ROUTE && log === run.form.data.log) {
            event.preventDefault();
            choose(key);
        }
    });
    document.addEventListener("visibilitychange", () => document.visibilityState === "visible" && stillMine());
    window.hands.hold(() => (live() && /^(open|back)$/.test(run.form.record.state) ? run.form.record.key : ""));

    Object.assign(run, { live, fresh, take, keep, changed, body });
    window.dash_clientside = Object.assign({}, window.dash_clientside, { runform: { open: open } });
})();
