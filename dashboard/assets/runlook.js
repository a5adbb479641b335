// How the typed looks to the server: faults at their fields, questions at their corners, sums of the loads. Where it
// does not answer, that is said, and the form goes on.
(function () {
    "use strict";
    const { $, say, element, released } = window.dom;
    const run = (window.run = window.run || {});

    async function look() {
        const { form } = run;
        const { record } = form;
        const sent = run.body();
        const text = JSON.stringify(sent);
        if (text === form.looked) {
            return;
        }
        form.looked = text;
        if (!run.CORNERS.some(run.isRead)) {
            showLook({});
            return;
        }
        const { said, trouble } = await window.outbox.ask("/api/check", sent);
        await released();
        if (form !== run.form || form.record !== record || form.looked !== text || record.state === "waiting") {
            return; // it speaks of something else than what stands here now
        }
        if (said && !said.refused) {
            showLook(said);
        } else {
            form.looked = "";
            const why = trouble || said.error;
            $("log-unchecked").textContent = `Not checked yet. ${why} Go on: it is looked at when it is saved.`;
        }
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
