import assert from 'node:assert/strict'
import test from 'node:test'
import type { Sheet } from '../src/book/records'
import { change, type Known } from '../src/book/state'
import { sayField, sayOut, whyHeld } from '../src/parts/facts'
import { en } from '../src/words/en'
import { es } from '../src/words/es'

test('choices are written in words, also inside a part of a record', () => {
  assert.equal(sayField(es, undefined, 'status', 'not-organic'), 'no orgánico')
  assert.equal(sayField(en, undefined, 'product', { name: 'Brightwash', kind: 'peracetic-acid' }), 'Brightwash, peracetic acid')
  assert.equal(sayField(es, undefined, 'reference', { type: 'donation-receipt', number: 'F-1' }), 'Recibo de donación, F-1')
  assert.equal(sayField(en, undefined, 'resolution', { decision: 'marked-off' }), 'marked off')
  assert.equal(sayField(es, undefined, 'analyte', 'total coliform'), 'Coliformes totales')
})

test('a lot that went in is named once', () => {
  const id = '01a21873-c172-7356-ac37-7eaf6f745e5b'
  const known = { people: [], beds: [], plots: [], crops: [], plantings: [], inputs: [], inputLots: [], batches: [], lots: [{ id, code: '26324-B1-BAB-1-U2' }] } as unknown as Known
  const lot = (code: string, taken: string) => ({ lot: code, lot_id: id, quantity: { value: '24', unit: 'lb' }, taken: { value: taken, unit: 'lb' } })
  assert.equal(sayField(en, known, 'from', [lot('26324-B1-BAB-1-U2', '24'), lot('26324-B2-BAB-1-JP', '20')]), '26324-B1-BAB-1-U2, amount 24 lb; 26324-B2-BAB-1-JP, amount 24 lb, counted as 20 lb')
})

test('the values of a log sheet are named by the sheet, in its order', () => {
  const sheet = { key: 'visitors', title: { en: 'Visitors', es: 'Visitantes' }, fields: [
    { key: 'rules', name: { en: 'Told the rules', es: 'Supo las reglas' }, type: 'yes-no' },
    { key: 'ppm', name: { en: 'Strength', es: 'Fuerza' }, type: 'number', unit_label: 'ppm' },
    { key: 'where', name: { en: 'Where', es: 'Dónde' }, type: 'choice', choices: [{ value: 'wash-shed', name: { en: 'wash shed', es: 'lavadero' } }] }] } as Sheet
  const known = { sheets: [sheet] } as unknown as Known
  const values = { where: 'wash-shed', ppm: '60', rules: 'yes' }
  assert.equal(sayField(en, known, 'values', values, 'visitors'), 'Told the rules: Yes; Strength: 60 ppm; Where: wash shed')
  change({ language: 'es' })
  assert.equal(sayField(es, known, 'values', values, 'visitors'), 'Supo las reglas: Sí; Fuerza: 60 ppm; Dónde: lavadero')
  assert.equal(sayField(es, known, 'sheet', 'visitors'), 'Visitantes')
  change({ language: 'en' })
})

test('who asks for a limit is told, and that nobody looked it up', () => {
  const act = { en: 'Drain the tub.', es: 'Vacíe la tina.' }
  assert.equal(sayOut(en, { act, asks: { authority: 'law', citation: '21 CFR 112.1', mark: '[memory]' } }), 'Drain the tub. (law, 21 CFR 112.1, source not verified)')
  assert.equal(sayOut(en, { act, asks: { authority: 'law', citation: '21 CFR 112.1', mark: 'verified: eCFR' } }), 'Drain the tub. (law, 21 CFR 112.1)')
})

test('a hold of the book has the words of the page, another one those of the person', () => {
  for (const verdict of Object.keys(en.verdict)) {
    assert.ok(en.mend.holds.already[verdict] && es.mend.holds.already[verdict], verdict)
  }
  assert.equal(whyHeld(es, { reason: 'birds' }), 'birds')
  assert.equal(whyHeld(es, { reason: 'Entered as already cut', already_cut: 'wait' }), es.mend.holds.already.wait)
})
