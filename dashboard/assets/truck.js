// What a button brought is moved to where it is seen.
(function () {
    "use strict";
    window.dash_clientside = Object.assign({}, window.dash_clientside, {
        truck: {
            show: function (shown) {
                if (shown) {
                    setTimeout(() => {
                        document.querySelectorAll("details.part:has([aria-invalid='true'])").forEach((fold) => (fold.open = true));
                        document.getElementById("truck-change").scrollIntoView({ block: "nearest" });
                    }, 50);
                }
                return window.dash_clientside.no_update;
            },
            // What is typed after a change was looked at is not in it: it has to be looked at again.
            typed: function (values, kinds, aparts, kept) {
                const none = window.dash_clientside.no_update;
                const again = "Something was typed since. See what changes once more, then save.";
                return kept ? [again, null, true] : [none, none, none];
            },
            step: function () {
                const context = window.dash_clientside.callback_context;
                const to = (context.triggered_id || { to: 1 }).to;
                const [steps, buttons] = context.outputs_list;
                setTimeout(() => document.querySelector("section.guide-step:not([hidden])").scrollIntoView({ block: "nearest" }), 50);
                return [
                    steps.map((one) => one.id.n !== to),
                    buttons.map((one) => (one.id.to === to ? "tab here" : "tab")),
                ];
            },
        },
    });
})();
