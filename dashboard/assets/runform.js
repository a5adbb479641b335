// The form of a run, alive in the browser alone: fields, steps, repeats, questions, saving into the outbox. What the
// server is asked for is only how the typed looks to it, and where it does not answer the form goes on without.
(function () {
    "use strict";
    const CORNERS = ["LF", "RF", "LR", "RR"]; // as the log orders them
    const WALK = ["LF", "RF", "RR", "LR"]; // as one walks round
    const READS = 4; // heights that a corner has room for
    const ANSWER_WAIT = 150; // ms in which another tab says that a run is in its hands
    const START = "tuning/start";
    const tab = Math.random().toString(36).slice(2);
    const channel = "BroadcastChannel" in window ? new BroadcastChannel("tuning-runs") : null;
    const claimed = new Set(); // keys that other tabs said they have in hand
    let form = null; // the open one: what the page said of it, the record in hand, what is asked about it

    const $ = (id) => document.getElementById(id);
    const say = (id, properties) => window.dash_clientside.set_props(id, properties);

    function element(tag, text, more, ...children) {
        const made = Object.assign(document.createElement(tag), more);
        made.append(...(text ? [text] : []), ...children);
        return made;
    }

    function button(text, action, more) {
        return element("button", text, Object.assign({ type: "button", className: "minor", onclick: action }, more));
    }

    // ---------------------------------------------------------------- fields

    function live() {
        return form && $("log-form") && form.record;
    }

    function controls() {
        return Array.from(document.querySelectorAll("#log-form input[id^=log-], #log-form select[id^=log-]"));
    }

    const nameOf = (control) => control.id.slice("log-".length);
    const value = (name) => form.record.values[name] || "";
    const heightsOf = (corner) => Array.from({ length: READS }, (_, i) => corner + "-height" + (i ? "-" + (i + 1) : ""));
    const isRead = (corner) => [...heightsOf(corner), corner + "-load"].some((name) => value(name).trim());

    function set(name, text) {
        form.record.values[name] = text;
        const control = $("log-" + name);
        if (control && control.tagName === "SELECT") {
            control.value = text;
        } else if (control) {
            say("log-" + name, { value: text }); // the component keeps its own text: the page's would be undone
        }
    }

    function paint() {
        for (const [name, text] of Object.entries(form.record.values)) {
            set(name, text);
        }
        CORNERS.forEach(showRepeats);
    }

    // A height that was read again has a field of its own; their mean and spread stand below.
    function showRepeats(corner, more) {
        const names = heightsOf(corner);
        const used = names.reduce((last, name, i) => (value(name).trim() ? i + 1 : last), 1);
        const shown = Math.max(used + (more === true ? 1 : 0), form.open[corner] || 1);
        form.open[corner] = Math.min(shown, READS);
        names.slice(1).forEach((name, i) => {
            const place = $("place-" + name);
            if (place) {
                place.hidden = i + 2 > form.open[corner];
            }
        });
        const again = $("again-" + corner);
        const mean = $("mean-" + corner);
        if (again && mean) {
            again.hidden = form.open[corner] === READS;
            mean.textContent = meanOf(names.map((name) => window.tape.read(value(name), form.data.units)));
        }
    }

    function meanOf(all) {
        const read = all.filter((one) => one !== null);
        if (read.length < 2) {
            return "";
        }
        const unit = form.data.units === "us" ? " in" : " mm";
        const mean = read.reduce((sum, one) => sum + one, 0) / read.length;
        const apart = Math.max(...read) - Math.min(...read);
        const places = form.data.units === "us" ? 2 : 1;
        return "Mean " + mean.toFixed(places) + unit + " of " + read.length + ", " + window.tape.write(apart, form.data.units) + unit + " apart.";
    }

    function changed(name, text) {
        form.record.values[name] = text;
        if (!form.record.begun) {
            const at = new Date();
            form.record.begun = stamp(at, "T", true);
            set("taken", stamp(at, " ", false));
        }
        form.record.name = value("run").trim();
        form.record.tab = tab;
        window.outbox.put(form.record);
        if (name.includes("-height")) {
            showRepeats(name.slice(0, 2));
        }
        if (form.missing) {
            form.missing = null;
            showAsked();
        }
    }

    // Local time as the log writes it.
    function stamp(at, between, seconds) {
        const two = (number) => String(number).padStart(2, "0");
        const day = [at.getFullYear(), two(at.getMonth() + 1), two(at.getDate())].join("-");
        const time = [two(at.getHours()), two(at.getMinutes())];
        return day + between + [...time, ...(seconds ? [two(at.getSeconds())] : [])].join(":");
    }

    // With the phone's zone where the log's times have one.
    function taken() {
        const typed = value("taken").trim();
        const begun = form.record.begun;
        const text = typed === begun.slice(0, 16).replace("T", " ") ? begun : typed;
        const at = new Date(text.replace(" ", "T"));
        if (!form.data.zoned || /(Z|[+-]\d\d:\d\d)$/.test(text) || Number.isNaN(at.getTime())) {
            return text;
        }
        const off = -at.getTimezoneOffset();
        const two = (number) => String(Math.floor(number)).padStart(2, "0");
        return text + (off < 0 ? "-" : "+") + two(Math.abs(off) / 60) + ":" + two(Math.abs(off) % 60);
    }

    function body() {
        const corners = {};
        for (const corner of CORNERS) {
            const own = Object.entries(form.record.values).filter(([name]) => name.startsWith(corner + "-"));
            corners[corner] = Object.fromEntries(own.map(([name, text]) => [name.slice(3), text]));
        }
        const settled = value("settled");
        return {
            key: form.record.key,
            log: form.data.log,
            truck: form.data.truck,
            run: value("run"),
            taken_at: taken(),
            settled: settled === "rolled" ? "" : settled,
            note: value("note"),
            corners: corners,
            confirmed: form.record.confirmed,
        };
    }

    // ---------------------------------------------------------------- which run is in hand

    function open(data) {
        if (!data || !data.truck) {
            form = null;
            return "";
        }
        form = { data: data, record: null, strict: false, errors: {}, asked: [], missing: null, others: [], open: {}, looked: "" };
        form.before = Object.assign({}, data.before);
        form.defaults = Object.fromEntries(controls().map((control) => [nameOf(control), control.value]));
        Object.assign(form.defaults, { run: data.run, settled: "rolled", taken: "", note: data.note || "" });
        order(stored(() => window.localStorage.getItem(START)) || WALK[0]);
        choose(linked());
        return "alive";
    }

    // The run that a link of the status line names, once.
    function linked() {
        const key = window.location.hash.slice(1);
        if (key) {
            history.replaceState(history.state, "", window.location.pathname + window.location.search);
        }
        return key;
    }

    // Go on with what this tab had in hand, or else with what a closed one left; never with what another tab holds.
    async function choose(wanted) {
        const here = form;
        const named = (record) => !here.data.named || record.values.run === here.data.run || record.key === wanted;
        const mine = window.outbox
            .all()
            .filter((record) => record.log === here.data.log && record.state !== "waiting" && named(record));
        mine.forEach((record) => claimed.delete(record.key));
        if (mine.length && channel) {
            mine.forEach((record) => channel.postMessage({ who: record.key, tab: tab }));
            await new Promise((done) => setTimeout(done, ANSWER_WAIT));
        }
        if (form !== here) {
            return;
        }
        const free = mine.filter((record) => !claimed.has(record.key));
        const first = wanted || stored(() => sessionStorage.getItem("tuning/mine"));
        const rank = (record) => (record.key === first ? "2" : record.state === "back" ? "1" : "0") + record.begun;
        free.sort((a, b) => (rank(a) < rank(b) ? 1 : -1));
        here.others = free.slice(1).filter((record) => record.state === "open"); // the status line has the rest
        if (free.length) {
            take(free[0]);
        } else {
            fresh(here.data.run);
        }
        showOthers();
    }

    function fresh(run) {
        const values = Object.assign({}, form.defaults, { run: run });
        take({
            key: window.outbox.newKey(),
            route: "/api/runs",
            log: form.data.log,
            truck: form.data.truck,
            name: run,
            state: "open",
            begun: "",
            turned: JSON.stringify(form.data.turned),
            values: values,
            confirmed: [],
        });
    }

    function take(record) {
        Object.assign(form, { record: record, strict: record.state === "back", errors: {}, asked: [], missing: null, open: {}, looked: "" });
        record.tab = tab;
        record.values = Object.assign({}, form.defaults, record.values);
        if (record.begun) {
            // Nuts that were turned since this was begun stand where the address says.
            const turned = JSON.stringify(form.data.turned);
            if (turned !== "{}" && record.turned !== turned) {
                Object.assign(record.values, form.data.turned, { note: record.values.note || form.data.note });
                record.turned = turned;
            }
            window.outbox.put(record);
        }
        stored(() => sessionStorage.setItem("tuning/mine", record.key));
        window.outbox.hold(record.key);
        removePad();
        paint();
        freeze(false);
        $("log-form").hidden = false;
        $("log-answer").replaceChildren();
        showLook(record.said || {});
        if (record.state === "back") {
            answer("bad", record.said.error);
        } else if (record.begun) {
            answer("plain", "This is what you typed before; it is not saved yet.");
            look();
        }
    }

    function showOthers() {
        const place = $("log-others");
        const lines = form.others.map((record) => {
            const drop = () => {
                if (window.confirm("Throw " + record.name + " away? What was typed is gone for good.")) {
                    window.outbox.drop(record.key);
                    form.others = form.others.filter((one) => one !== record);
                    showOthers();
                }
            };
            const text = "Also not saved yet: " + record.name + ", begun " + record.begun.slice(0, 16).replace("T", " ") + ". ";
            return element("p", text, {}, button("Go on with it", () => choose(record.key)), " ", button("Throw it away", drop));
        });
        if (place) {
            place.className = lines.length ? "note plain" : "";
            place.replaceChildren(...lines);
        }
    }

    // Another tab may have taken over, saved or thrown away what this one shows: then this one begins anew.
    function stillMine() {
        if (!live() || !form.record.begun) {
            return;
        }
        const now = window.outbox.get(form.record.key);
        if (form.record.state === "waiting") {
            if (!now) {
                done((window.outbox.lastSaved() || { said: {} }).said);
            } else if (now.state === "back") {
                take(now);
            }
        } else if (!now || (now.tab !== tab && now.state !== "waiting")) {
            fresh(form.data.run);
            answer("plain", "What stood here went on in another tab.");
        }
    }

    // ---------------------------------------------------------------- looking and asking

    async function look() {
        const here = form;
        const key = here.record.key;
        const sent = body();
        const text = JSON.stringify(sent);
        if (text === here.looked) {
            return;
        }
        here.looked = text;
        if (!CORNERS.some(isRead)) {
            showLook({});
            return;
        }
        const found = await window.outbox.ask("/api/check", sent);
        if (form !== here || here.record.key !== key || here.looked !== text || here.record.state === "waiting") {
            return;
        }
        const unchecked = $("log-unchecked");
        if (found.said && !found.said.refused) {
            showLook(found.said);
        } else {
            here.looked = "";
            const why = found.trouble || found.said.error;
            unchecked.textContent = "Not checked yet. " + why + " Go on: it is looked at when it is saved.";
        }
    }

    function showLook(said) {
        $("log-unchecked").textContent = "";
        showFaults(said.faults || []);
        form.asked = said.asked || [];
        showAsked();
        const facts = (said.sums || []).map(([term, amount, more]) =>
            element("div", "", {}, element("dt", term), element("dd", "", {}, element("span", amount, { className: "value" }), element("span", more, { className: "more" })))
        );
        $("log-sums").replaceChildren(...facts);
    }

    // An empty field is no error until a save was tried.
    function showFaults(faults) {
        const errors = {};
        for (const fault of faults) {
            const name = [fault.corner, fault.field].filter(Boolean).join("-").replace("taken_at", "taken");
            if (form.strict || value(name).trim()) {
                errors[name] = fault.text;
            }
        }
        for (const name of new Set([...Object.keys(errors), ...Object.keys(form.errors)])) {
            if (errors[name] !== form.errors[name] && $("log-" + name) && $("log-" + name).tagName === "INPUT") {
                say("log-" + name, { error: errors[name] || null });
            }
        }
        form.errors = errors;
    }

    function showAsked() {
        const all = [...form.asked, ...(form.missing ? [form.missing] : [])];
        const open = all.filter((one) => !isConfirmed(one));
        const last = form.strict && open.length === 1 && !Object.keys(form.errors).length;
        for (const corner of [...CORNERS, ""]) {
            const place = $(corner ? "asked-" + corner : "log-asked");
            const mine = all.filter((one) => one.corner === corner);
            if (place) {
                drawAsked(place, mine, last);
            }
        }
    }

    // A button that is drawn anew under a finger loses its tap: where only the words changed, only they are.
    function drawAsked(place, asked, last) {
        const drawn = JSON.stringify([last, ...asked.map((one) => [one.key, isConfirmed(one)])]);
        if (place.dataset.drawn === drawn) {
            asked.forEach((one, i) => isConfirmed(one) || (place.children[i].firstChild.textContent = one.text));
            return;
        }
        place.dataset.drawn = drawn;
        place.replaceChildren(...asked.map((one) => question(one, last)));
    }

    const isConfirmed = (one) => form.record.confirmed.includes(one.key);

    function question(one, last) {
        const missing = one.key.startsWith("missing ");
        const first = missing ? one.key.slice("missing ".length, "missing ".length + 2) + "-height" : "run";
        const change = () => focus(one.field ? one.corner + "-" + one.field : first);
        const keep = () => {
            form.record.confirmed.push(one.key);
            window.outbox.put(form.record);
            showAsked();
            if (last) {
                save();
            }
        };
        const drop = () => {
            form.record.confirmed = form.record.confirmed.filter((key) => key !== one.key);
            showAsked();
            change();
        };
        if (isConfirmed(one)) {
            const read = one.field && one.field !== "preload";
            const text = read ? "Kept as read: it goes in as doubtful and stays out of the fit. " : "Kept as it is. ";
            return element("p", text, { className: "more" }, button("Change it", drop));
        }
        const words = missing ? ["Save the others", "Go on reading"] : [last ? "Keep it and save" : "Keep it", "Change it"];
        return element("div", "", { className: "note warn" }, element("p", one.text), button(words[0], keep), " ", button(words[1], change));
    }

    function focus(name) {
        const control = $("log-" + name);
        if (control) {
            control.focus();
            if (control.select) {
                control.select();
            }
        }
    }

    // ---------------------------------------------------------------- saving

    function save() {
        if (!live() || form.record.state === "waiting") {
            return;
        }
        form.strict = true;
        const missing = CORNERS.filter((corner) => !isRead(corner));
        if (missing.length === CORNERS.length) {
            answer("bad", "Nothing is read yet. Write the height from the frame mark to the axle mark.");
            return;
        }
        const key = "missing " + missing.join(",");
        if (missing.length && !form.record.confirmed.includes(key)) {
            const text = listed(missing) + " not read: save the other corners alone?";
            form.missing = { key: key, corner: "", field: "", text: text };
            showAsked();
            return;
        }
        form.record.tab = tab;
        form.record.said = null;
        form.record.body = body();
        freeze(true);
        answer("plain", "Saving " + form.record.name + " …");
        window.outbox.send(form.record);
    }

    function listed(names) {
        return names.length === 1 ? names[0] : names.slice(0, -1).join(", ") + " and " + names[names.length - 1];
    }

    function freeze(on) {
        $("log-form").inert = on;
        $("log-save").textContent = on ? "Saving …" : "Save the run";
    }

    function became(event) {
        const { what, record, said, back } = event.detail;
        if (!live() || record.key !== form.record.key) {
            return;
        }
        if (what === "saved") {
            done(said);
        } else if (what === "back") {
            take(back);
            lead();
        } else if (!$("log-form").hidden) {
            goOn("warn", "Run " + record.name + " is on this phone and not in the log yet. It goes in as soon as the server answers: leave it, or go on.");
        }
    }

    // To the first thing that stands in the way.
    function lead() {
        const asked = document.querySelector("#log-form .note.warn");
        if (Object.keys(form.errors).length) {
            focus(Object.keys(form.errors)[0]);
        } else if (asked) {
            asked.scrollIntoView({ block: "center" });
        }
    }

    function done(said) {
        goOn(said.saved && said.saved.includes("doubtful") ? "warn" : "good", said.saved || "It is saved.");
        const query = "?truck=" + encodeURIComponent(form.data.truck);
        const ways = [["See what to turn", "/adjust"], ["See the fit", "/corners"]];
        const links = ways.map(([text, path]) => element("a", text, { href: path + query, className: "go" }));
        $("log-answer").append(element("p", "", {}, ...links));
    }

    // The run is out of hand: offer the next one, without asking the server for another page.
    function goOn(kind, text) {
        const values = form.record.values;
        const run = form.record.name;
        const unit = form.data.units === "us" ? " in" : " mm";
        for (const corner of CORNERS) {
            const read = heightsOf(corner).map((name) => value(name).trim()).filter(Boolean);
            const height = read[read.length - 1];
            if (height) {
                form.before[corner + "-height"] = height;
                say("log-" + corner + "-height", { description: run + ": " + height + unit });
            }
            const nut = (values[corner + "-preload"] || "").trim();
            if (nut && isRead(corner)) {
                form.defaults[corner + "-preload"] = nut;
                form.defaults[corner + "-stack"] = values[corner + "-stack"] || "";
                say("log-" + corner + "-preload", { description: "as in " + run + ": " + nut + unit });
            }
        }
        form.defaults.note = "";
        form.data = Object.assign({}, form.data, { turned: {}, named: false, run: following(run) });
        say("log-run", { description: "Last was " + run + "." });
        history.replaceState(history.state, "", "/log?truck=" + encodeURIComponent(form.data.truck));
        $("log-form").hidden = true;
        answer(kind, text);
        $("log-answer").append(
            element("p", "", { className: "ends" }, button("Read again in " + run, () => fresh(run)), button("Log the next run", () => fresh(following(run))))
        );
    }

    // r4 after r3; "after lunch 2" after "after lunch".
    function following(run) {
        const [, stem, number] = /^(.*?)(\d{0,9})$/.exec(run);
        return number ? stem + (Number(number) + 1) : run + " 2";
    }

    function answer(kind, text) {
        $("log-answer").replaceChildren(element("div", "", { className: "note " + kind }, element("p", text)));
    }

    function clear() {
        const touched = form.record.begun;
        if (touched && window.confirm("Clear the form? What was typed is gone for good.")) {
            window.outbox.drop(form.record.key);
            fresh(form.data.run);
        }
    }

    // ---------------------------------------------------------------- the pad of the field in hand

    const stepped = (name) => /-(height(-\d)?|preload)$/.test(name);
    const beforeOf = (name) => form.before[name.replace(/-\d$/, "")] || "";

    function removePad() {
        document.querySelectorAll(".pad").forEach((pad) => pad.remove());
    }

    function showPad(control) {
        const name = nameOf(control);
        const place = $("pad-" + name.replace(/-\d$/, ""));
        if (place.dataset.field === name && place.firstChild) {
            return;
        }
        removePad();
        place.dataset.field = name;
        const words = name.replace("-", " ").replace(/-(\d)$/, " reading $1");
        const us = form.data.units === "us";
        const write = (text) => {
            set(name, text);
            changed(name, text);
        };
        // The field keeps the focus and the phone its keypad; who uses a keyboard types, or presses up and down.
        const key = (text, label, action) =>
            button(text, action, { className: "tap", tabIndex: -1, ariaLabel: label, onpointerdown: (event) => event.preventDefault() });
        const step = (ways) => () => write(window.tape.step(value(name), ways, beforeOf(name), form.data.units));
        const part = us ? "1/16 in" : "1 mm";
        const steps = [key("− " + part, words + " less " + part, step(-1)), key("+ " + part, words + " more " + part, step(1))];
        const advised = name.endsWith("preload") && form.data.advised[name.slice(0, 2)];
        if (advised) {
            steps.push(key("advised " + advised, words + " as advised", () => write(advised)));
        }
        const parts = us ? Array.from({ length: 16 }, (_, over) => over) : [];
        const fractions = parts.map((over) => {
            const text = over ? window.tape.write(over / 16, "us") : "0";
            return key(text, words + " and " + text, () => write(window.tape.sixteenths(value(name), over, beforeOf(name), "us")));
        });
        place.append(
            element("div", "", { className: "pad", role: "group", ariaLabel: words }, element("div", "", { className: "steps" }, ...steps), element("div", "", { className: "parts" }, ...fractions))
        );
    }

    // ---------------------------------------------------------------- order of the walk

    function order(start) {
        const first = Math.max(WALK.indexOf(start), 0);
        const walk = [...WALK.slice(first), ...WALK.slice(0, first)];
        $("log-corners").append(...walk.map((corner) => $("corner-" + corner)));
        $("walk-start").value = walk[0];
    }

    function stored(action) {
        try {
            return action();
        } catch {
            return null; // a private window may forbid it
        }
    }

    // ---------------------------------------------------------------- events

    const inForm = (target) => live() && target.closest && target.closest("#log-form");

    function typed(event) {
        const target = event.target;
        if (!inForm(target)) {
            return;
        }
        if (target.id === "walk-start") {
            stored(() => window.localStorage.setItem(START, target.value));
            order(target.value);
        } else if (target.type === "radio" && target.checked) {
            changed("settled", target.value);
        } else if (target.id.startsWith("log-")) {
            changed(nameOf(target), target.value);
        }
    }

    function pressed(event) {
        const name = inForm(event.target) && event.target.id.startsWith("log-") ? nameOf(event.target) : "";
        if (name && stepped(name) && (event.key === "ArrowUp" || event.key === "ArrowDown")) {
            event.preventDefault();
            const text = window.tape.step(value(name), event.key === "ArrowUp" ? 1 : -1, beforeOf(name), form.data.units);
            set(name, text);
            changed(name, text);
        } else if (name && event.key === "Enter") {
            event.preventDefault();
            const all = controls().filter((control) => control.offsetParent);
            (all[all.indexOf(event.target) + 1] || $("log-save")).focus();
        }
    }

    function clicked(event) {
        const id = live() && event.target.closest("button") ? event.target.closest("button").id : "";
        if (id === "log-save") {
            save();
        } else if (id === "log-clear") {
            clear();
        } else if (id.startsWith("again-")) {
            const corner = id.slice("again-".length);
            showRepeats(corner, true);
            focus(heightsOf(corner)[form.open[corner] - 1]);
        }
    }

    document.addEventListener("input", typed);
    document.addEventListener("change", typed);
    document.addEventListener("keydown", pressed);
    document.addEventListener("click", clicked);
    document.addEventListener("focusin", (event) => {
        if (inForm(event.target) && event.target.tagName === "INPUT" && event.target.id.startsWith("log-")) {
            if (stepped(nameOf(event.target))) {
                showPad(event.target);
            } else {
                removePad();
            }
        }
    });
    document.addEventListener("focusout", (event) => inForm(event.target) && look());
    document.addEventListener("outbox", became);
    window.addEventListener("storage", stillMine);
    window.addEventListener("hashchange", () => live() && window.location.hash && choose(linked()));
    document.addEventListener("visibilitychange", () => document.visibilityState === "visible" && stillMine());
    if (channel) {
        channel.onmessage = (event) => {
            const { who, mine, tab: asking } = event.data;
            if (mine) {
                claimed.add(mine);
            } else if (who && asking !== tab && live() && form.record.key === who && form.record.state !== "waiting") {
                channel.postMessage({ mine: who });
            }
        };
    }

    window.dash_clientside = Object.assign({}, window.dash_clientside, { runform: { open: open } });
})();
