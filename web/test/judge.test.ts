import assert from 'node:assert/strict'
import test from 'node:test'
import { gravest, mayHoldManure, seenHere, untold } from '../src/book/judge'
import type { Entry } from '../src/book/queue'
import type { Check, Reason, Verdict } from '../src/book/records'

const check = (verdict: Verdict, clear_on?: string): Check =>
  ({ bed_id: 'b', bed: 'Bed', plot_id: 'p', planting_id: 'pl', crop: 'Kale', soil_contact: 'touches', verdict, clear_on, reasons: [] })
const spread = (state: Entry['state'], beds = ['b']): Entry =>
  ({ id: 'e', order: 1, path: '/v1/applications', body: {}, said: { act: 'spread', on: '2026-07-01' }, farm: 'f', state, touches: { bed_ids: beds, what: 'Raw manure', on: '2026-07-01' } })

test('manure that was spread here and not sent makes a clear bed a question', () => {
  assert.equal(seenHere(check('clear'), '2026-07-01', '2026-07-01', [spread('waiting')]).verdict, 'ask')
  assert.equal(seenHere(check('clear'), '2026-07-01', '2026-07-01', [spread('refused')]).verdict, 'ask', 'also while the book refuses it')
  assert.equal(seenHere(check('stop'), '2026-07-01', '2026-07-01', [spread('waiting')]).verdict, 'stop', 'never milder')
  assert.equal(seenHere(check('clear'), '2026-07-01', '2026-07-01', [spread('waiting', ['c'])]).verdict, 'clear', 'other beds are not touched')
})

test('what was sent after the book was last asked counts as unknown to it', () => {
  const sent = [{ at: 1000, entry: spread('waiting') }]
  assert.equal(untold([], sent, 999).length, 1)
  assert.equal(untold([], sent, 1001).length, 0, 'the book was asked after it had the entry')
  assert.equal(untold([spread('waiting')], [], 2000).length, 1)
})

test('a first clear day that has come since the book was asked is a question, not a yes', () => {
  assert.equal(seenHere(check('wait', '2026-07-03'), '2026-07-01', '2026-07-03', []).verdict, 'ask')
  assert.equal(seenHere(check('wait', '2026-07-03'), '2026-07-01', '2026-07-02', []).verdict, 'wait')
})

test('the reason shown is one of the verdict, the latest day first', () => {
  const reason = (verdict: Verdict, clear_on: string, text: string) => ({ verdict, clear_on, text }) as Reason
  const c = { ...check('wait', '2026-09-01'), reasons: [reason('caution', '', 'c'), reason('wait', '2026-08-01', 'a'), reason('wait', '2026-09-01', 'b')] }
  assert.equal(gravest(c)?.text, 'b')
})

test('what may hold manure', () => {
  assert.equal(mayHoldManure('raw-manure'), true)
  assert.equal(mayHoldManure(undefined), true, 'unknown never passes as fine')
  assert.equal(mayHoldManure('plant-material'), false)
  assert.equal(mayHoldManure('plant-material', 'hens'), true, 'animals had the heap')
})
