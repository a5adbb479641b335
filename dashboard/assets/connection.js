// Dash says nothing when its server does not answer. This does, and takes it back when the server answers again.
(function () {
    "use strict";
    const ask = window.fetch;
    const text = "The server does not answer. What you typed is still here and not saved: try again in a moment.";
    function show(lost) {
        const place = document.getElementById("connection");
        if (place) {
            place.hidden = !lost;
            place.textContent = lost ? text : "";
        }
    }
    window.fetch = function (...request) {
        return ask.apply(this, request).then(
            function (answer) {
                show(answer.status >= 502);
                return answer;
            },
            function (error) {
                show(true);
                throw error;
            }
        );
    };
})();
