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
