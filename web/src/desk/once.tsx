// A secret as it is shown: once, to be copied away. The book keeps no more of it than it needs to know it again.

import { useState } from 'preact/hooks'
import { useWords } from '../words/words'
import { useDesk } from './words'

export function Once({ secret, lead, label, onDone }: { secret: string; lead?: string; label?: string; onDone: () => void }) {
  const w = useWords()
  const t = useDesk().once
  const [told, setTold] = useState('')
  // Without https a browser gives a page no clipboard; the secret is then marked, to be copied by hand.
  const copy = (field: HTMLInputElement) => {
    field.select()
    const copied = navigator.clipboard?.writeText(secret) ?? Promise.reject(new Error('no clipboard'))
    copied.then(() => setTold(t.copied)).catch(() => setTold(t.marked))
  }
  return (
    <section class="refusal once">
      <p><b>{lead ?? t.lead}</b></p>
      <label class="field">{label ?? t.address}<input type="text" readOnly value={secret} onFocus={e => e.currentTarget.select()} /></label>
      {told && <p role="status">{told}</p>}
      <p class="acts">
        <button type="button" class="main" onClick={e => copy(e.currentTarget.closest('section')!.querySelector('input')!)}>{t.copy}</button>
        <button type="button" onClick={onDone}>{w.done}</button>
      </p>
    </section>
  )
}
