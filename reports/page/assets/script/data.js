// The data that stands in the page, and how figures are written.

const data = JSON.parse(document.getElementById("data").textContent);
const minus = (text) => text.replace(/^-/, "−");
const level = (x, places) => minus(x.toFixed(places));
const tick = (x) => minus(String(Number(x.toFixed(6))));
const bytesOf = (base64) => Uint8Array.from(atob(base64), (c) => c.charCodeAt(0));
const palette = bytesOf(data.palette);
