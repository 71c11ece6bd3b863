// The one state of the app, and the hook that redraws what reads it.

import { useEffect, useState } from 'preact/hooks'
import type { OtherPages } from './keep'
import type { Entry } from './queue'
import type { Batch, Bed, Check, Crop, Customer, Farm, Input, InputLot, Lot, Me, OnHand, Person, Planting, Plot, Sheet, WaterSource, Written } from './records'

// Known is what was last known of the farm, kept on the phone.
export interface Known {
  at: number // milliseconds, when the harvest check was last answered
  on: string // the farm's day it was answered for
  farm: Farm
  checks: Check[]
  people: Person[]
  plots: Plot[]
  beds: Bed[]
  crops: Crop[]
  plantings: Planting[]
  inputs: Input[]
  inputLots: InputLot[]
  batches: Batch[]
  lots: Lot[]
  me?: Me
  onHand?: OnHand[]
  sources?: WaterSource[]
  customers?: Customer[]
  sheets?: Sheet[]
  listsAt: number
}

// SentNote remembers what became of an entry that was sent, so that a lot cut without signal can still get its label.
export interface SentNote { id: string; at: number; entry: Entry; record: Written }

export type Language = 'en' | 'es'
export type Line = 'idle' | 'sending' | 'no-signal' | 'signed-out'

// Habits of this phone, from which the next entry starts.
export interface Habits {
  bed?: string
  planting?: string
  unitOf?: Record<string, string> // by crop name
  source?: string
  amountUnit?: string
  batch?: string
  pointsOf?: Record<string, { probe: string; value: string; unit: string }[]> // by batch
  labelSize?: string
  water?: string // the water source last used
  tap?: string
  customer?: string
  paper?: string
}

// Phone is a shared phone: what it is called, and who may say that it is them.
export interface Phone { label: string; people: { id: string; name: string; initials: string; role: string }[] }

export interface State {
  ready: boolean
  token: string
  farm: string
  language: Language
  chosenLanguage: boolean // a person chose it; otherwise it follows the person or the phone
  person: string // on a shared phone: who is at it
  proved: string // whose PIN the book took last; differs from person when somebody changed over without signal
  phone?: Phone
  doer: string // person id who does the work; empty: whoever the token belongs to
  known?: Known
  queue: Entry[]
  sent: SentNote[]
  habits: Habits
  firstToken?: string // of a farm that was just opened here, until it is written down
  line: Line
  sendingNow?: { id: string; sent: number; of: number } // the pictures of the entry that is going out just now
  stopped: boolean // a person stopped the sending; it goes on when they say so
  failures: number
  otherPages?: OtherPages
  now: number
}

let state: State = {
  ready: false, token: '', farm: '', language: 'en', chosenLanguage: false, person: '', proved: '', doer: '', queue: [], sent: [], habits: {}, line: 'idle', stopped: false,
  failures: 0, now: Date.now(),
}
const watchers = new Set<() => void>()

export const current = (): State => state

export function change(part: Partial<State>): void {
  state = { ...state, ...part }
  watchers.forEach(w => w())
}

export function useBook(): State {
  const [, redraw] = useState(0)
  useEffect(() => {
    const w = () => redraw(n => n + 1)
    watchers.add(w)
    w() // something may have changed between drawing and watching
    return () => void watchers.delete(w)
  }, [])
  return state
}
