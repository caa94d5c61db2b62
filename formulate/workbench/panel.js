// One front end for every panel: it shows the HTML that Python made, and sends back what
// was typed, pressed or chosen. It decides nothing and evaluates nothing.

const LARGEST = 1000000 // bytes of an upload; Python holds the same limit
const SLOW = 400 // ms after which it is said that work is going on
const SILENT = 10000 // ms after which it is said that nothing answers
const TYPING = 150 // ms without a key before a search is sent
const WORK = 'formulate-work'

// --- patching: what is the same stays, so that focus, selection and scroll stay too ------

const OURS = ['open', 'data-sent', 'data-seen', 'tabindex', 'popover'] // what the page itself has set

function alike(old, fresh) {
  return old && old.nodeType === fresh.nodeType && old.nodeName === fresh.nodeName &&
    old.dataset?.key === fresh.dataset?.key && old.dataset?.slot === fresh.dataset?.slot && old.type === fresh.type
}

function patchAttributes(old, fresh) {
  for (const { name } of [...old.attributes])
    if (!fresh.hasAttribute(name) && !OURS.includes(name)) old.removeAttribute(name)
  for (const { name, value } of fresh.attributes)
    if (name === 'open' ? !old.wanted : old.getAttribute(name) !== value) {
      old.setAttribute(name, value)
      if (name === 'value') old.value = value
    }
  if (old.nodeName === 'DETAILS') old.wanted = fresh.open // what a person closed stays closed
  if (old.nodeName === 'INPUT') {
    if (old.checked !== fresh.checked) old.checked = fresh.checked
    const typing = document.activeElement === old && old.dataset.sent !== old.value
    if (old.type === 'text' && !typing && old.value !== fresh.value) old.value = fresh.value
  }
}

function patch(old, fresh) {
  if (old.nodeType === Node.TEXT_NODE) {
    if (old.data !== fresh.data) old.data = fresh.data
    return
  }
  if (old.nodeType !== Node.ELEMENT_NODE) return
  if (old.nodeName === 'svg') { // a picture is the same or another
    if (!old.isEqualNode(fresh)) old.replaceWith(fresh)
    return
  }
  patchAttributes(old, fresh)
  if (old.dataset.slot) return // filled from elsewhere
  if (old.nodeName === 'TEXTAREA') {
    if (old.defaultValue !== fresh.defaultValue) {
      old.defaultValue = fresh.defaultValue
      old.value = fresh.value
    }
    return
  }
  patchChildren(old, fresh)
  if (old.nodeName === 'SELECT') {
    const chosen = [...fresh.options].findIndex(option => option.hasAttribute('selected'))
    if (document.activeElement !== old || old.dataset.sent === old.value) old.selectedIndex = Math.max(chosen, 0)
  }
}

function patchChildren(old, fresh) {
  const wanted = new Set([...fresh.children].map(child => child.dataset.key).filter(Boolean))
  for (const child of [...old.children])
    if (child.dataset.key && !wanted.has(child.dataset.key)) child.remove()
  let at = old.firstChild
  for (const want of [...fresh.childNodes]) {
    let have = at
    if (want.dataset?.key)
      while (have && have.dataset?.key !== want.dataset.key) have = have.nextSibling
    if (alike(have, want)) {
      if (have === at) at = at.nextSibling
      else old.insertBefore(have, at)
      patch(have, want)
    } else old.insertBefore(want, at)
  }
  while (at) {
    const gone = at
    at = at.nextSibling
    gone.remove()
  }
}

const REACHED = 'button:not(:disabled), input, select, textarea, a[href], summary, [tabindex="-1"]'

function redraw(root, html) {
  const focused = root.contains(document.activeElement) ? document.activeElement : null
  const place = focused ? [...root.querySelectorAll(REACHED)].indexOf(focused) : -1
  const fresh = document.createElement('template')
  fresh.innerHTML = html
  patchChildren(root, fresh.content)
  for (const part of root.querySelectorAll('details')) part.wanted ??= part.open
  if (!focused || (document.activeElement === focused && !focused.disabled)) return // one that is disabled loses it
  const reached = [...root.querySelectorAll(REACHED)]
  const next = root.contains(focused) && !focused.disabled ? focused : reached[Math.min(place, reached.length - 1)]
  next?.focus({ preventScroll: true })
}

// --- what may leave the page: a file to keep, a sheet to print ---------------------------

function download({ name, text, type }) {
  const link = document.createElement('a')
  link.href = URL.createObjectURL(new Blob([text], { type }))
  link.download = name
  link.click()
  setTimeout(() => URL.revokeObjectURL(link.href), 1000)
}

const FIELDS = 'input, select, textarea'
const NOT_ON_PAPER = '.fm-frame .fm-tools, iframe, .fm-upload, .fm-buttons, .fm-found, .fm-onscreen, label:has([data-kind=search])'

function printPart({ head, foot, style }, root) { // a part as it is seen, without what is pressed or folded
  const copy = root.cloneNode(true)
  const fields = [...root.querySelectorAll(FIELDS)]
  const copied = [...copy.querySelectorAll(FIELDS)]
  for (const gone of copy.querySelectorAll(NOT_ON_PAPER)) gone.remove()
  copied.forEach((field, place) => field.replaceWith(asText(fields[place])))
  for (const folded of copy.querySelectorAll('details:not([open])'))
    if (folded.closest('th, td, caption, p, .fm-quiet') || folded.className === 'fm-term') folded.replaceWith(folded.querySelector('summary').textContent)
    else folded.remove()
  for (const button of copy.querySelectorAll('button'))
    if (button.className === 'fm-number') button.replaceWith(button.textContent)
    else button.remove()
  const page = document.createElement('html')
  page.innerHTML = `<head><meta charset="utf-8"><title></title><style>${style}</style></head><body>${head}<main></main>${foot}</body>`
  page.querySelector('main').append(copy)
  page.querySelector('title').textContent = root.getAttribute('aria-label')
  page.lang = 'en'
  print({ text: `<!DOCTYPE html>${page.outerHTML}` })
}

function asText(field) {
  const { type, checked } = field
  if (type === 'checkbox' || type === 'radio') return checked ? '☒' : '☐'
  const text = document.createElement(field.nodeName === 'TEXTAREA' ? 'pre' : 'b')
  text.textContent = field.nodeName === 'SELECT' ? field.selectedOptions[0]?.textContent ?? '' : field.value || field.placeholder
  return text
}

function print({ text }) {
  document.querySelector('iframe.fm-print')?.remove()
  const frame = document.createElement('iframe')
  frame.className = 'fm-print'
  frame.title = 'the sheet on its way to the printer'
  frame.setAttribute('sandbox', 'allow-same-origin allow-modals') // no scripts run in it
  frame.srcdoc = text
  frame.onload = () => frame.contentWindow.print()
  document.body.append(frame)
}

// --- the secret under which this browser's work is kept ----------------------------------

function workKey() {
  const cookie = document.cookie.match(/(?:^|; )formulate-work=([0-9a-f]{32})/)?.[1]
  const random = () => [...crypto.getRandomValues(new Uint8Array(16))].map(b => b.toString(16).padStart(2, '0')).join('')
  return keepKey(stored() ?? cookie ?? random())
}

function stored() { // a browser may forbid it; then the cookie alone has to do
  try { return sessionStorage.getItem(WORK) } catch { return null }
}

function remember(name, value) { // what this browser opened last; no work is in it
  try { localStorage.setItem(`formulate-${name}`, value) } catch { /* forbidden */ }
}

function remembered(name) {
  try { return localStorage.getItem(`formulate-${name}`) } catch { return null }
}

function keepKey(key) {
  try { sessionStorage.setItem(WORK, key) } catch { /* forbidden */ }
  document.cookie = `${WORK}=${key}; max-age=31536000; path=/; SameSite=Strict`
  return key
}

// --- one panel ---------------------------------------------------------------------------

function render({ model, el }) {
  const root = document.createElement('section')
  root.className = `fm fm-${model.get('part')}`
  root.setAttribute('data-lm-suppress-shortcuts', 'true') // keys typed here are not Lab's
  root.setAttribute('aria-label', model.get('label'))
  const waiting = document.createElement('p')
  waiting.className = 'fm-waiting'
  waiting.setAttribute('role', 'status')
  waiting.setAttribute('popover', 'manual') // above what scrolls, whatever it scrolls in
  el.append(root, waiting)
  let sent = 0, timers = [], searching = 0
  const seen = new IntersectionObserver(changes => {
    for (const { target, isIntersecting } of changes) {
      if (target.dataset.seen === String(isIntersecting)) continue
      target.dataset.seen = isIntersecting
      send('seen', target.dataset.slot, isIntersecting)
    }
  })
  const watched = new Set()

  function send(kind, name, value = '', buffers = []) {
    sent += 1
    model.send({ kind, name, value, count: sent }, undefined, buffers)
    wait(true)
  }
  function wait(isWaiting) {
    timers.forEach(clearTimeout)
    const say = (words, after) => setTimeout(() => tell(words), after)
    timers = isWaiting
      ? [say('working …', SLOW), say('Nothing answers. Load the page again (in a notebook: run the cell again); your work is kept.', SILENT)]
      : [say('', 0)]
  }
  function tell(words) {
    waiting.textContent = words
    if (waiting.isConnected) waiting.togglePopover?.(words !== '')
  }
  function done() {
    if (model.get('done') >= sent) wait(false)
  }
  function fill() {
    const slots = model.get('slots')
    for (const slot of root.querySelectorAll('[data-slot]')) {
      if (!watched.has(slot) && !('eager' in slot.dataset)) { watched.add(slot); seen.observe(slot) }
      const text = slots[slot.dataset.slot] ?? ''
      if (slot.shown === text) continue
      slot.shown = text
      if (slot.nodeName !== 'IFRAME') { redraw(slot, text); continue }
      const height = slot.contentWindow?.scrollY ?? 0
      slot.onload = () => slot.contentWindow.scrollTo(0, height)
      slot.srcdoc = text
    }
    for (const slot of watched) if (!root.contains(slot)) { seen.unobserve(slot); watched.delete(slot) }
    requestAnimationFrame(reach)
    hasten()
  }
  function hasten() { // an answer that was asked for is worked out wherever the page stands
    for (const slot of root.querySelectorAll('[data-eager]')) {
      const isOpen = !slot.closest('details:not([open])')
      if (slot.dataset.seen === String(isOpen)) continue
      slot.dataset.seen = isOpen
      send('seen', slot.dataset.slot, isOpen)
    }
  }
  function reach() { // a table that is too wide is scrolled by keyboard, too
    for (const box of root.querySelectorAll('.fm-scroll'))
      if (box.scrollWidth > box.clientWidth && !box.querySelector('button, input')) box.tabIndex = 0
      else box.removeAttribute('tabindex')
  }
  function draw() {
    redraw(root, model.get('html'))
    fill()
    float(root.querySelector('.fm-tour'))
  }
  function float(tour) { // on a phone the head scrolls away, and the tour with it
    if (!tour || tour.popover || !matchMedia('(max-width: 700px)').matches) return
    tour.popover = 'manual'
    tour.showPopover()
  }

  window.addEventListener('resize', reach)
  root.addEventListener('toggle', () => { reach(); hasten() }, { capture: true })
  root.addEventListener('change', event => {
    const field = event.target
    if (!field.name) return
    if (field.type === 'file') return upload(field)
    clearTimeout(searching)
    field.dataset.sent = field.value
    send(field.dataset.kind ?? 'change', field.name, field.type === 'checkbox' ? field.checked : field.value)
  })
  root.addEventListener('input', event => {
    const field = event.target
    if (field.dataset.kind !== 'search') return
    clearTimeout(searching)
    searching = setTimeout(() => send('search', field.name, field.value), TYPING)
  })
  root.addEventListener('click', event => {
    const button = event.target.closest('button')
    if (button?.dataset.go) go(button.dataset.go)
    if (button?.name) send('press', button.name, button.value)
  })
  root.addEventListener('keydown', event => {
    event.stopPropagation() // or Lab takes Enter and the arrows
    const by = { ArrowDown: 1, ArrowUp: -1, Enter: 1 }[event.key]
    const cell = event.target.closest('td, th')
    if (!by || !cell || event.target.type !== 'text') return
    event.preventDefault()
    const rows = [...cell.closest('table').rows].filter(row => row.cells[cell.cellIndex]?.querySelector('input[type=text]'))
    const next = rows[rows.indexOf(cell.parentElement) + by]?.cells[cell.cellIndex].querySelector('input[type=text]')
    if (next) { next.focus(); next.select() } // leaving a cell takes what was typed
    else if (event.key === 'Enter') { event.target.blur(); event.target.focus() }
  })
  async function upload(field) {
    const [file] = field.files
    if (!file) return
    if (file.size > LARGEST) send('too large', field.name, file.name)
    else send('upload', field.name, file.name, [await file.arrayBuffer()])
    field.value = ''
  }
  function go(part, stay) { // a tour keeps the focus on its own buttons
    const heading = document.querySelector(`.fm-${part} h2`)
    heading?.scrollIntoView({ block: 'start' })
    if (!stay) heading?.focus({ preventScroll: true })
  }
  function told(message) {
    if (message.kind === 'go') requestAnimationFrame(() => go(message.part, message.stay))
    if (message.kind === 'remember') remember(message.name, message.value)
    if (message.kind === 'paper') printPart(message, root)
    if (message.kind === 'file') download(message)
    if (message.kind === 'print') print(message)
    if (message.kind === 'key' && message.old === workKey()) keepKey(message.key)
  }

  model.on('change:html', draw)
  model.on('change:slots', fill)
  model.on('change:done', done)
  model.on('msg:custom', told)
  draw()
  if (model.get('part') === 'head') {
    send('hello', 'work', workKey())
    if (remembered('door')) send('hello', 'door', remembered('door'))
  }
  return () => {
    seen.disconnect()
    window.removeEventListener('resize', reach)
    timers.forEach(clearTimeout)
    model.off('change:html', draw)
    model.off('change:slots', fill)
    model.off('change:done', done)
    model.off('msg:custom', told)
  }
}

export default { render }
