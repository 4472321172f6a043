/** Asks the book's own address whether this phone trusts it, and says so. @module */
const state = document.getElementById('state');
const app = document.documentElement.dataset.app;

async function look() {
  try {
    await fetch(`${app}/trusted`, { mode: 'no-cors', cache: 'no-store' });
    state.textContent = 'This phone trusts the office. Open the book, add it to the home screen, and type the code inside the icon.';
    document.getElementById('open').hidden = false;
  } catch {
    state.textContent = 'This phone does not trust the office yet, or does not reach it: do the steps below.';
    setTimeout(look, 5000);
  }
}
look();
document.getElementById('print').addEventListener('click', () => print());
