// A reading that is looked at comes into sight and takes the focus, wherever it was asked for.
(function () {
    "use strict";
    function show(card) {
        const part = card && card.props && card.props.className === "chosen";
        if (part) {
            setTimeout(() => {
                const chosen = document.querySelector(".chosen");
                if (chosen) {
                    chosen.querySelector("h2").focus({ preventScroll: true });
                    chosen.scrollIntoView({ block: "nearest" });
                }
            });
        }
        return "";
    }
    window.dash_clientside = Object.assign({}, window.dash_clientside, { corners: { show } });
})();
