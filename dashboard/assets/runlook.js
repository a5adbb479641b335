// How the typed looks to the server (see looked.js): faults at their fields, questions at their corners, sums of the
// loads.
(function () {
    "use strict";
    const { $, say, element } = window.dom;
    const run = (window.run = window.run || {});

    function look() {
        const { form } = run;
        const sent = run.body();
        const text = JSON.stringify(sent);
        const nothing = !run.CORNERS.some(run.isRead);
        const still = () => form === run.form && form.looked === text;
        const place = { route: "/api/check", show: showLook, unchecked: "log-unchecked" };
        return window.looked(form, { sent, text, nothing, still, ...place });
    }

    function showLook(said) {
        $("log-unchecked").textContent = "";
        showFaults(said.faults || []);
        run.form.asked = said.asked || [];
        showAsked();
        const facts = (said.sums || []).map(([term, amount, more]) => {
            const words = [element("span", amount, { className: "value" }), element("span", more, { className: "more" })];
            return element("div", "", {}, element("dt", term), element("dd", "", {}, ...words));
        });
        $("log-sums").replaceChildren(...facts);
    }

    // An empty field is no error until a save was tried.
    function showFaults(faults) {
        const before = run.form.errors;
        const now = {};
        for (const fault of faults) {
            const name = [fault.corner, fault.field].filter(Boolean).join("-").replace("taken_at", "taken");
            if (run.form.strict || run.value(name).trim()) {
                now[name] = fault.text;
            }
        }
        for (const name of Object.keys(Object.assign({}, before, now))) {
            if (now[name] !== before[name] && $("log-" + name) && $("log-" + name).tagName === "INPUT") {
                say("log-" + name, { error: now[name] || null });
            }
        }
        run.form.errors = now;
    }

    function showAsked() {
        const { form } = run;
        const all = [...form.asked, ...(form.missing ? [form.missing] : [])];
        const open = all.filter((one) => !act.kept(one));
        const last = form.strict && open.length === 1 && !Object.keys(form.errors).length;
        for (const corner of [...run.CORNERS, ""]) {
            const place = $(corner ? "asked-" + corner : "log-asked");
            const own = all.filter((one) => one.corner === corner);
            if (place) {
                window.questions.draw(place, own, act, last);
            }
        }
    }

    const act = {
        kept: (one) => run.form.record.confirmed.includes(one.key),
        keep: (one, andSave) => {
            run.form.record.confirmed.push(one.key);
            run.keep();
            showAsked();
            if (andSave) {
                run.save();
            }
        },
        drop: (one) => {
            const { record } = run.form;
            record.confirmed = record.confirmed.filter((key) => key !== one.key);
            showAsked();
            act.change(one);
        },
        change: (one) => {
            const missing = /^missing (..)/.exec(one.key);
            run.focus(one.field ? one.corner + "-" + one.field : missing ? missing[1] + "-height" : "run");
        },
    };

    Object.assign(run, { look, showLook, showAsked });
})();
