// What a button brought is moved to where it is seen.
(function () {
    "use strict";
    window.dash_clientside = Object.assign({}, window.dash_clientside, {
        truck: {
            show: function (shown) {
                if (shown) {
                    setTimeout(() => document.getElementById("truck-change").scrollIntoView({ block: "nearest" }), 50);
                }
                return window.dash_clientside.no_update;
            },
        },
    });
})();
