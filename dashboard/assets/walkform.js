// A cycle walk's form, alive in the browser alone: it goes on without a link. Which position is in hand, what was typed
// and when; a position is one record of the outbox from its first letter on.
(function () {
    "use strict";
    const { $, element, stored } = window.dom;
    const walk = (window.walk = window.walk || {});
    const ROUTE = "/api/walk";
    const BY = "tuning/by"; // who walks, as this phone knows it
    walk.form = null;

    const live = () => walk.form && walk.form.record && $("walk-form");

    // ---------------------------------------------------------------- which position is in hand

    // Called by the page when it is there. data: what it says of truck, log and the end's walk.
    function open(data) {
        if (!data || !data.truck) {
            walk.form = null;
            return "";
        }
        walk.form = { data: Object.assign({}, data), at: data.at, record: null, painted: new Map(), turn: 0 };
        const key = window.outbox.linked();
        const record = window.outbox.get(key);
        choose(record && isOurs(record) ? indexOf(record) : data.at, key);
        return "alive";
    }

    const isOurs = (record) =>
        record.route === ROUTE && record.log === walk.form.data.log && record.end === walk.form.data.state.end;

    const isAt = (record, one) => record.position === one.position && record.steering === one.steering;
    const indexOf = (record) => Math.max(0, walk.form.data.state.stations.findIndex((one) => isAt(record, one)));

    // Records of this end's position, in those states.
    function recordsAt(at, ...states) {
        const found = window.outbox.all().filter((one) => isOurs(one) && isAt(one, walk.station(at)));
        return found.filter((one) => states.includes(one.state)).sort((a, b) => (a.asked || 0) - (b.asked || 0));
    }

    // Go on with what a closed tab left here, or with nothing; never with what another tab holds.
    async function choose(at, wanted) {
        const { form } = walk;
        const turn = ++form.turn;
        const found = recordsAt(at, "open", "back");
        const free = await window.hands.free(found.map((one) => one.key));
        if (form !== walk.form || turn !== form.turn) {
            return; // somebody went on meanwhile
        }
        const rank = (one) => (one.key === wanted ? "2" : one.state === "back" ? "1" : "0") + one.begun;
        const mine = found.filter((one) => free.includes(one.key)).sort((a, b) => (rank(a) < rank(b) ? 1 : -1));
        form.at = at;
        take(mine[0] || fresh());
    }

    // By a person's tap: and there they are.
    async function go(at, wanted) {
        await choose(at, wanted);
        if (live() && walk.form.at === at) {
            $("walk-station").focus();
            $("walk-station").scrollIntoView({ block: "start" });
        }
    }

    function fresh() {
        const { log, truck, units, state } = walk.form.data;
        const { position, steering } = walk.station();
        const at = steering && steering !== "straight" ? " at " + steering : "";
        return {
            key: window.outbox.newKey(),
            route: ROUTE,
            state: "open",
            what: "position",
            log: log,
            truck: truck,
            name: `${state.end} ${position}${at}`,
            page: address(walk.form.at),
            seen: address(walk.form.at),
            begun: "",
            end: state.end,
            position: position,
            steering: steering,
            units: units,
            typed: {}, // texts by place, of those that were touched
            shown: {}, // and as they stood before
            by: stored((shelf) => shelf.getItem(BY)) || "",
            confirmed: [],
        };
    }

    function address(at) {
        const { truck, state } = walk.form.data;
        const { position, steering } = walk.station(at);
        const query = new URLSearchParams({ truck, end: state.end, position });
        if (steering) {
            query.set("steering", steering);
        }
        return "/walk?" + query;
    }

    function link(text, at) {
        const follow = (event) => {
            event.preventDefault();
            go(at);
        };
        return element("a", text, { href: address(at), className: "go", onclick: follow });
    }

    function take(record) {
        const { form } = walk;
        Object.assign(form, { record: record, strict: record.state === "back", looked: "", asked: [] });
        form.errors = form.errors || {};
        form.drawn = walk.drawnAt(form.at);
        if (record.begun) {
            keep();
        }
        window.outbox.hold(record.key);
        history.replaceState(history.state, "", address(form.at));
        walk.paint();
        walk.freeze(false);
        $("walk-form").hidden = false;
        walk.showLook(record.said || {});
        walk.showList();
        if (record.state === "back") {
            walk.answer("bad", record.said.error);
        } else if (record.begun) {
            walk.answer("plain", "This is what you typed before; it is not saved yet.");
            walk.look();
        } else {
            $("walk-answer").replaceChildren();
        }
    }

    // What the log has may have changed, or what waits: fields that nobody touched here follow.
    function refresh() {
        walk.form.drawn = walk.drawnAt(walk.form.at);
        walk.paint();
        walk.showList();
    }

    // As the log has it, without what was typed here.
    function startAnew() {
        window.outbox.drop(walk.form.record.key);
        take(fresh());
    }

    function clear() {
        if (walk.form.record.begun && window.outbox.throwAway(walk.form.record)) {
            take(fresh());
        }
    }

    // Another tab may have taken over, sent or thrown away what this one shows.
    function stillMine() {
        if (!live()) {
            return;
        }
        const { record } = walk.form;
        const now = record.begun && window.outbox.get(record.key);
        if (!record.begun || record.state === "saved") {
            refresh();
        } else if (record.state === "waiting") {
            const last = window.outbox.lastSaved();
            if (!now) {
                walk.done(last && last.key === record.key ? last.said : {});
            } else if (now.state === "back") {
                take(now);
            }
        } else if (!now || (now.tab !== window.hands.tab && now.state !== "waiting")) {
            take(fresh());
            walk.answer("plain", "What stood here went on in another tab.");
        }
    }

    // ---------------------------------------------------------------- what is typed

    function keep() {
        walk.form.record.tab = window.hands.tab;
        window.outbox.put(walk.form.record);
    }

    function changed(place, name, text) {
        const { record, drawn } = walk.form;
        if (!record.typed[place]) {
            record.shown[place] = Object.assign({}, drawn[place]);
            record.typed[place] = Object.assign({}, drawn[place]);
        }
        record.typed[place][name] = text;
        record.begun = record.begun || window.clock.stamp(new Date());
        keep();
    }

    // A place as if it had not been touched. there: what the log has of it now.
    function untouch(place, there) {
        const { record } = walk.form;
        delete record.typed[place];
        delete record.shown[place];
        walk.station().shown[place] = there;
        if (Object.keys(record.typed).length) {
            keep();
            refresh();
            walk.look();
        } else {
            startAnew();
        }
    }

    const tidy = (text) => (text || "").trim().replace(/\s+/g, " ");

    // As the server reads it: what is other than it stood there before.
    function body() {
        const { data, record } = walk.form;
        const differs = (place) =>
            walk.fieldsOf(place).some((name) => tidy(record.typed[place][name]) !== tidy(record.shown[place][name]));
        const places = Object.keys(record.typed).filter(differs);
        const of = (texts) => Object.fromEntries(places.map((place) => [place, texts[place]]));
        const begun = record.begun || window.clock.stamp(new Date());
        return {
            key: record.key,
            log: data.log,
            truck: data.truck,
            end: record.end,
            position: record.position,
            steering: record.steering,
            units: record.units,
            taken_at: data.zoned ? window.clock.zoned(begun) : begun,
            by: record.by,
            typed: of(record.typed),
            shown: of(record.shown),
            confirmed: record.confirmed,
        };
    }

    // ---------------------------------------------------------------- events

    const inForm = (target) => live() && target.closest && target.closest("#walk-form");

    function typed(event) {
        const target = event.target;
        if (!inForm(target) || !target.matches("input") || (target.type === "radio" && !target.checked)) {
            return;
        }
        walk.form.painted.set(target.type === "radio" ? target.closest("[id^=walk-result]").id : target.id, target.value);
        if (target.id === "walk-by") {
            walk.form.record.by = target.value;
            stored((shelf) => shelf.setItem(BY, target.value));
            if (walk.form.record.begun) {
                keep();
            }
        } else {
            changed(...walk.fieldAt(target), target.value);
            if (target.type === "radio") {
                walk.look(); // a text is looked at when its field is left
            }
        }
    }

    // A clearance by one tap; it passes then.
    function tapped(chip) {
        const { place } = chip.closest("[data-place]").dataset;
        for (const [name, text] of Object.entries({ clearance: chip.dataset.text, result: "pass" })) {
            walk.set(walk.idOf(place, name), text);
            changed(place, name, text);
        }
        walk.look();
    }

    function clicked(event) {
        const pressed = live() && event.target.closest("button");
        if (!pressed || !inForm(pressed)) {
            return;
        }
        if (pressed.id === "walk-save") {
            walk.save();
        } else if (pressed.id === "walk-clear") {
            clear();
        } else if (pressed.className === "chip") {
            tapped(pressed);
        }
    }

    document.addEventListener("input", typed);
    document.addEventListener("change", typed);
    document.addEventListener("click", clicked);
    document.addEventListener("focusout", (event) => inForm(event.target) && walk.look());
    document.addEventListener("outbox", (event) => live() && walk.became(event.detail));
    document.addEventListener("outbox-look", (event) => {
        if (live() && isOurs(event.detail)) {
            event.preventDefault();
            go(indexOf(event.detail), event.detail.key);
        }
    });
    window.addEventListener("storage", stillMine);
    document.addEventListener("visibilitychange", () => document.visibilityState === "visible" && stillMine());
    const inHand = () => live() && /^(open|back)$/.test(walk.form.record.state);
    window.hands.hold(() => (inHand() ? walk.form.record.key : ""));

    Object.assign(walk, { isOurs, isAt, recordsAt, go, link, take, startAnew, refresh, keep, untouch, body });
    window.dash_clientside = Object.assign({}, window.dash_clientside, { walkform: { open: open } });
})();
