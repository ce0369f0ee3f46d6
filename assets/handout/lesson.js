(function () {
  'use strict';
  var root = document.documentElement;
  var steps = Array.prototype.slice.call(document.querySelectorAll('.step'));
  var count = document.getElementById('count');
  var back = document.getElementById('back');
  var more = document.getElementById('more');
  var next = document.getElementById('next');
  var full = document.getElementById('full');
  if (!steps.length) { return; }
  root.classList.add('live');
  var at = 0, shown = 0;

  function reveals(i) { return Number(steps[i].getAttribute('data-reveals')) || 0; }

  function remember() {
    var where = '#step=' + (at + 1) + (shown ? '&reveal=' + shown : '');
    try { history.replaceState(null, '', where); } catch (refused) { /* an address that cannot be changed is no harm */ }
  }

  function show(step, revealed) {
    if (step !== at) { pauseAll(); }
    at = Math.max(0, Math.min(steps.length - 1, step));
    shown = Math.max(0, Math.min(reveals(at), revealed));
    steps.forEach(function (section, i) { section.hidden = i !== at; });
    Array.prototype.forEach.call(steps[at].querySelectorAll('[data-reveal]'), function (mark) {
      var hide = Number(mark.getAttribute('data-reveal')) > shown;
      if (hide) { mark.setAttribute('hidden', ''); } else { mark.removeAttribute('hidden'); }
    });
    var title = steps[at].querySelector('h2').textContent;
    var left = reveals(at) - shown;
    count.textContent = 'Step ' + (at + 1) + ' of ' + steps.length + ': ' + title +
      (reveals(at) ? ' (' + shown + ' of ' + reveals(at) + ' revealed)' : '');
    back.disabled = at === 0;
    next.disabled = at === steps.length - 1;
    more.disabled = left === 0;
    more.textContent = left > 0 ? 'Reveal (' + left + ' left)' : 'Reveal';
    remember();
  }

  function go(step) { if (step >= 0 && step < steps.length) { show(step, 0); window.scrollTo(0, 0); } }
  function reveal() { if (shown < reveals(at)) { show(at, shown + 1); } }
  back.addEventListener('click', function () { go(at - 1); });
  next.addEventListener('click', function () { go(at + 1); });
  more.addEventListener('click', reveal);
  if (root.requestFullscreen) {
    full.addEventListener('click', function () {
      if (document.fullscreenElement) { document.exitFullscreen(); } else { root.requestFullscreen(); }
    });
    document.addEventListener('fullscreenchange', function () {
      full.textContent = document.fullscreenElement ? 'Leave full screen' : 'Full screen';
    });
  } else {
    full.hidden = true;
  }

  document.addEventListener('keydown', function (event) {
    if (event.altKey || event.ctrlKey || event.metaKey) { return; }
    var tag = event.target.tagName;
    var slider = tag === 'INPUT';
    var key = event.key;
    if (key === ' ' && (tag === 'BUTTON' || tag === 'SUMMARY' || slider)) { return; }
    if (slider && /^(Arrow|Home|End|Page)/.test(key)) { return; }
    if (key === 'ArrowRight' || key === 'PageDown') { go(at + 1); }
    else if (key === 'ArrowLeft' || key === 'PageUp') { go(at - 1); }
    else if (key === 'Home') { go(0); }
    else if (key === 'End') { go(steps.length - 1); }
    else if (key === ' ') { if (shown < reveals(at)) { reveal(); } else { go(at + 1); } }
    else if (key === 'p' || key === 'P') { if (films[at]) { films[at].toggle(); } else { return; } }
    else { return; }
    event.preventDefault();
  });

  // Recordings within steps: one picture that holds all frames, row by row.
  var films = steps.map(film);

  function pauseAll() { films.forEach(function (f) { if (f) { f.pause(); } }); }

  function film(section) {
    var box = section.querySelector('.film');
    if (!box) { return null; }
    var facts = JSON.parse(box.getAttribute('data-film'));
    var view = section.querySelector('.view');
    var canvas = view.querySelector('canvas');
    var pen = canvas.getContext('2d');
    var sheet = box.querySelector('img');
    var button = box.querySelector('button');
    var slider = box.querySelector('input');
    var says = box.querySelector('output');
    var words = view.querySelector('.time');
    var moment = Number(slider.value), timer = null;

    function draw(frame) {
      moment = Math.max(0, Math.min(facts.says.length - 1, frame));
      var x = (moment % facts.columns) * facts.width, y = Math.floor(moment / facts.columns) * facts.height;
      pen.drawImage(sheet, x, y, facts.width, facts.height, 0, 0, facts.width, facts.height);
      view.classList.add('playing');
      canvas.setAttribute('data-frame', moment);
      slider.value = moment;
      slider.setAttribute('aria-valuetext', facts.says[moment]);
      says.textContent = facts.says[moment];
      if (words) { words.textContent = facts.says[moment]; }
    }
    function pause() {
      if (timer !== null) { clearTimeout(timer); timer = null; }
      button.textContent = 'Play';
    }
    function later() {
      timer = setTimeout(function () {
        if (moment + 1 >= facts.says.length) { pause(); return; }
        draw(moment + 1);
        later();
      }, facts.delays[moment]);
    }
    function play() {
      if (moment + 1 >= facts.says.length) { moment = 0; }
      draw(moment);
      button.textContent = 'Pause';
      later();
    }
    function ready(then) { if (sheet.complete && sheet.naturalWidth) { then(); } else { sheet.addEventListener('load', then); } }
    function toggle() { if (timer === null) { ready(play); } else { pause(); } }
    button.addEventListener('click', toggle);
    slider.addEventListener('input', function () { pause(); ready(function () { draw(Number(slider.value)); }); });
    return {
      pause: pause, toggle: toggle,
      draw: function (frame) { pause(); ready(function () { draw(frame); }); }
    };
  }

  // #step=2&reveal=1 opens a step; &moment=12 a frame of what it plays; &play=1 plays it.
  function open() {
    var asked = {};
    location.hash.slice(1).split('&').forEach(function (pair) {
      var parts = pair.split('=');
      asked[parts[0]] = parseInt(parts[1], 10);
    });
    show((asked.step || 1) - 1, asked.reveal || 0);
    if (films[at] && asked.moment >= 0) { films[at].draw(asked.moment); }
    if (films[at] && asked.play) { films[at].toggle(); }
  }
  window.addEventListener('hashchange', open);
  open();
})();
