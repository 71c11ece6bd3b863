import { deskEn, deskEs } from '../src/desk/words'
import { refusedEs } from '../src/desk/refused.es'
import assert from 'node:assert/strict'
import { readdirSync, readFileSync } from 'node:fs'
import test from 'node:test'
import { checkCharacters, readCode } from '../src/book/code'
import { addDays, dayIn, daysBetween, instant, isPast, timeIn } from '../src/book/days'
import { newId } from '../src/book/id'
import { cleaned, typed } from '../src/parts/pad'
import { en } from '../src/words/en'
import { es } from '../src/words/es'
import { howEs } from '../src/words/how.es'
import { saidEs } from '../src/words/said.es'

test('codes are read as the service reads them', () => {
  assert.equal(checkCharacters('26219L3RAD1'), 'SS') // the service's own example
  assert.deepEqual(readCode('26219-l3-rad-1-ss'), { state: 'fits', text: '26219-L3-RAD-1-SS', lot: '26219-L3-RAD-1-SS' })
  assert.deepEqual(readCode('HTTPS://BOOK.EXAMPLE/L/ABC/26219-L3-RAD-1-C12-8H'),
    { state: 'fits', text: '26219-L3-RAD-1-C12-8H', lot: '26219-L3-RAD-1-SS', crate: 12 })
  assert.deepEqual(readCode('p26221sal14x'), { state: 'fits', text: 'P26221-SAL-1-4X', lot: 'P26221-SAL-1-4X' })
  assert.deepEqual(readCode('P26221-SAL-1-C2-WP'), { state: 'fits', text: 'P26221-SAL-1-C2-WP', lot: 'P26221-SAL-1-4X', crate: 2 })
})

test('every slip of one character shows', () => {
  const code = '26219-L3-RAD-1-SS'
  for (let i = 0; i < code.length; i++) {
    if (code[i] === '-') continue
    for (const c of '0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ') {
      if (c === code[i]) continue
      assert.notEqual(readCode(code.slice(0, i) + c + code.slice(i + 1)).state, 'fits', `${c} at ${i}`)
    }
  }
})

test('ids are UUIDs of version 7, in the order of time', () => {
  assert.match(newId(), /^[0-9a-f]{8}-[0-9a-f]{4}-7[0-9a-f]{3}-[89ab][0-9a-f]{3}-[0-9a-f]{12}$/)
  assert.ok(newId(1_800_000_000_000) < newId(1_800_000_000_001))
})

test('days are the farm’s, whatever the phone’s zone', () => {
  const late = new Date('2026-07-02T03:30:00Z')
  assert.equal(dayIn('America/New_York', late), '2026-07-01')
  assert.equal(dayIn('Europe/Madrid', late), '2026-07-02')
  assert.equal(addDays('2026-03-08', 1), '2026-03-09', 'over a change of clocks')
  assert.equal(daysBetween('2026-03-01', '2026-04-01'), 31)
  assert.match(instant(), /^\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d[+-]\d\d:\d\d$/)
})

test('hours are the farm’s too, and what is overdue is a moment, not a text', () => {
  assert.equal(timeIn('America/New_York', new Date('2026-11-27T04:05:00Z')), '23:05')
  assert.equal(timeIn('America/New_York', new Date('2026-07-27T04:05:00Z')), '00:05')
  assert.equal(isPast('2026-11-26T10:00:00-05:00', new Date('2026-11-26T14:00:00Z')), false)
  assert.equal(isPast('2026-11-26T15:00:00Z', new Date('2026-11-26T16:00:00+01:00')), false)
  assert.equal(isPast('2026-11-26T15:00:00Z', new Date('2026-11-26T10:30:00-05:00')), true)
})

test('keys and keyboards write only numbers', () => {
  assert.equal('24.5'.split('').reduce((v, k) => typed(v, k), ''), '24.5')
  assert.equal(typed('1.25', '3'), '1.25')
  assert.equal(typed('', '.'), '0.')
  assert.equal(typed('1.2', '.'), '1.2')
  assert.equal(typed('12', 'erase'), '1')
  assert.equal(cleaned('12,5 lb'), '12.5')
  assert.equal(cleaned('<b>7'), '7')
})

test('Spanish says everything that English says, in its own words', () => {
  // What is rightly the same in both languages.
  const same = /^(locale$|unit\.|sets\.|age\.\w+$|label\.sizes\.|authority\.|tab\.|pad\.|bed\.via|spread\.no$|acts\.form\.no$|acts\.water\.ph$|acts\.facts\.fields\.(values|ppm|ph)$|desk\.book\.title$|desk\.papers\.sizes\.|mend\.mend\.fields\.(ppm|ph)$|mend\.test\.ecoli$|mend\.deliver\.categories\.mineral$)/
  const walk = (a: object, b: object, at: string): void => {
    for (const [key, value] of Object.entries(a)) {
      const other = (b as Record<string, unknown>)[key]
      const here = at + key
      assert.ok(other !== undefined, `${here} is missing`)
      if (typeof value === 'object') walk(Array.isArray(value) ? { ...value } : value, Array.isArray(other) ? { ...other } : (other as object), here + '.')
      else if (typeof value === 'function') assert.equal(typeof other, 'function', here)
      else if (!same.test(here)) assert.notEqual(other, value, `${here} is still in English`)
    }
  }
  walk(en, es, '')
  walk(deskEn, deskEs, 'desk.')
})

test('every step of a chain that the service names has Spanish words', () => {
  const files = readdirSync('../storage').filter(file => /^(?:trace.*|start)\.go$/.test(file) && !file.endsWith('_test.go'))
  const said = files.flatMap(file => [...readFileSync('../storage/' + file, 'utf8').matchAll(/\.Link\(.*"([a-z ]+?) ?"(?:\)|\+)/g)].map(m => m[1]!)).filter(how => /[a-z]/.test(how))
  assert.ok(said.length > 18, said.join())
  for (const how of said) assert.notEqual(howEs(how), how)
  assert.equal(howEs('went on earlier bed Brook 1'), 'se echó en la cama anterior Brook 1')
  assert.equal(howEs('went in with 12 lb'), 'entró con 12 lb')
  assert.equal(howEs('12 lb in 3 crates'), '12 lb en 3 cajas')
  assert.equal(howEs('washing at Shed at the gate'), 'lavado en Shed at the gate')
})

test('what the service says of a recall and of gaps has Spanish words', () => {
  const source = (file: string) => readFileSync('../' + file, 'utf8')
  const texts = [ // as they stand in the source, with a name for each value
    ...source('storage/trace.go').matchAll(/t\.Gap\(.*?"(.+?)"/g), ...source('storage/recall.go').matchAll(/o\.Gaps = append\(o\.Gaps, (.*\."?.*)\)/g),
    ...source('domain/recall.go').matchAll(/b\.Said = (.+)/g), ...source('domain/recall.go').matchAll(/Sprintf\("(%s went into .+?)",/g), ...source('api/recall.go').matchAll(/recallCaution = (".+")/g),
  ].map(m => m[1]!.replace(/^fmt\.Sprintf\(/, '').replace(/"? ?\+ ?[\w.]+\([\w.]+\) ?\+ ?"/g, '%s').replace(/" ?\+ ?p\.Name ?\+ ?"/, '%s').replace(/p\.Name ?\+ ?"/, '"%s').replace(/^"|",? .*$|"$/g, '').replaceAll('%%', '%').replaceAll('%s', 'Brook 1'))
    .filter(text => text !== 'gap')
  assert.ok(texts.length > 9, texts.join(' | '))
  for (const text of texts) assert.notEqual(saidEs(text), text)
})

test('why something is refused or was not sent has Spanish words', () => {
  const of = (file: string, sentence: RegExp, most: number) => {
    const texts = [...readFileSync('../' + file, 'utf8').matchAll(sentence)].map(m => m[1]!.replace(/%[dswq]/g, '7'))
    assert.ok(texts.length >= most, `${file}: ${texts.join(' | ')}`)
    return texts
  }
  for (const text of [
    ...of('domain/daily_message.go', /"(Give (?:one|an address) .+?)"/g, 2), ...of('post/post.go', /"((?:This|That|Give) .+?)"/g, 4), ...of('post/webhook.go', /(?:New|Errorf)\("(.+?)"/g, 9),
    ...of('post/mail.go', /(?:New|Errorf)\("(the (?:mail server|address) .+?)"/g, 4), ...of('storage/daily_message.go', /"((?:You have|It ended|A test) .+?)"/g, 3),
    ...of('storage/daily_queue.go', /settle\(ctx, at, "(.+?)"/g, 2), ...of('domain/gs1_item.go', /"((?:Item references|Behind|This product|Another product) .+?)"/g, 4), ...of('domain/farm.go', /"((?:Copy the|Prefixes that) .+?)"/g, 2), ...of('api/daily_messages.go', /"(This service .+?)"/g, 1),
  ]) assert.notEqual(refusedEs(text), text)
})
