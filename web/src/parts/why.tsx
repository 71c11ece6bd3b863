// Why something is done: one of the usual reasons with one tap, or a sentence.

import { useState } from 'preact/hooks'
import { Text } from './fields'
import { Pick } from './pick'

export function WhyField({ legend, whys, other, value, onValue }: { legend: string; whys: string[]; other: string; value: string; onValue: (v: string) => void }) {
  const [own, setOwn] = useState(false)
  return (
    <>
      <Pick legend={legend} chosen={[own ? 'other' : value]} onPick={id => { setOwn(id === 'other'); onValue(id === 'other' ? '' : id) }}
        choices={[...whys.map(y => ({ id: y, label: y })), { id: 'other', label: other }]} />
      {own && <Text long label={other} value={value} onValue={onValue} />}
    </>
  )
}
