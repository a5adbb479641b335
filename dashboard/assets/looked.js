// How a form looks to the server while it is typed: asked once for each state of it, shown where it still speaks of what
// stands there. Where the server does not answer, that is said, and the form goes on.
(function () {
    "use strict";
    const { $, released } = window.dom;

    // text: what is sent, as far as it tells one state from another; still: whether it stands there yet; nothing: there
    // is nothing to look at; unchecked: id of the place that says so.
    window.looked = async function (form, { route, sent, text, nothing, still, show, unchecked }) {
        const { record } = form;
        if (text === form.looked) {
            return;
        }
        form.looked = text;
        if (nothing) {
            show({});
            return;
        }
        const { said, trouble } = await window.outbox.ask(route, sent);
        await released();
        if (form.record !== record || record.state === "waiting" || !still()) {
            return; // it speaks of something else than what stands here now
        }
        if (said && !said.refused) {
            show(said);
        } else {
            form.looked = "";
            const why = trouble || said.error;
            $(unchecked).textContent = `Not checked yet. ${why} Go on: it is looked at when it is saved.`;
        }
    };
})();
