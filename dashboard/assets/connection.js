// Dash says nothing when its server does not answer, or asks for a login. This does, and takes it back when the server
// answers again.
(function () {
    "use strict";
    const ask = window.fetch;
    const text = "The server does not answer. What you typed is still here and not saved: try again in a moment.";
    const out = "You are logged out. What you typed is still here and not saved: ";
    function show(lost) {
        const place = document.getElementById("connection");
        if (place) {
            place.hidden = !lost;
            place.textContent = lost ? text : "";
        }
    }
    function showLogin() {
        const place = document.getElementById("connection");
        const link = document.createElement("a");
        link.href = "/login";
        link.target = "_blank";
        link.textContent = "log in in another tab, then go on here.";
        if (place) {
            place.hidden = false;
            place.replaceChildren(out, link);
        }
    }
    window.fetch = function (...request) {
        if (String(request[0]).startsWith("/api/")) {
            return ask.apply(this, request); // the outbox tells for itself how it gets on
        }
        return ask.apply(this, request).then(
            function (answer) {
                if (answer.status === 401) {
                    showLogin();
                } else {
                    show(answer.status >= 502);
                }
                return answer;
            },
            function (error) {
                show(true);
                throw error;
            }
        );
    };
})();
