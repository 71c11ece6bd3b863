// Picking a day that has been: today, yesterday, or another one.

import { useState } from 'preact/hooks'
import { addDays } from '../book/days'
import { today } from '../book/sync'
import { useWords } from '../words/words'
import { Pick } from './pick'

export function When({ legend, value, onValue, from }: { legend: string; value: string; onValue: (day: string) => void; from?: string }) {
  const w = useWords()
  const now = today()
  const [other, setOther] = useState(value !== now && value !== addDays(now, -1))
  const choices = [{ id: now, label: w.todayDay }, { id: addDays(now, -1), label: w.yesterday }, { id: 'other', label: w.otherDay }]
  return (
    <>
      <Pick legend={legend} three choices={choices} chosen={[other ? 'other' : value]}
        onPick={id => { setOther(id === 'other'); if (id !== 'other') onValue(id) }} />
      {other && <input type="date" aria-label={legend} max={now} min={from} value={value} onInput={e => e.currentTarget.value && onValue(e.currentTarget.value)} />}
    </>
  )
}
