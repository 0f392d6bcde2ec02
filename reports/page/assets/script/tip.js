// The words beside the pointer.

const tip = document.getElementById("tip");

function showTip(event, text) {
  tip.hidden = !text;
  if (!text) return;
  tip.textContent = text;
  const box = event.event.target.getBoundingClientRect();
  const x = box.left + event.offsetX, y = box.top + event.offsetY;
  const left = Math.max(4, Math.min(x + 14, document.documentElement.clientWidth - tip.offsetWidth - 4));
  const top = y + 18 + tip.offsetHeight > innerHeight ? y - tip.offsetHeight - 12 : y + 18;
  tip.style.left = left + scrollX + "px";
  tip.style.top = top + scrollY + "px";
}

const moment = (ms) => `${format(hour).format(ms)} ${zoneName(ms)} (${inUTC(ms, clock)})`;
