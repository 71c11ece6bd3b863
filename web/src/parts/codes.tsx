// Codes of lots and crates: typed or read by the camera, listed with a way to leave each out again.

import { useState } from 'preact/hooks'
import { readCode } from '../book/code'
import { useWords } from '../words/words'
import { Name } from './page'
import { Scan } from './scan'

export function CodesField({ label, codes, onCodes }: { label: string; codes: string[]; onCodes: (codes: string[]) => void }) {
  const w = useWords()
  const [typed, setTyped] = useState('')
  const [slip, setSlip] = useState(false)
  const add = (text: string) => {
    const read = readCode(text)
    setSlip(read.state !== 'fits')
    if (read.state !== 'fits') return
    onCodes([...new Set([...codes, read.text])])
    setTyped('')
  }
  return (
    <>
      <label class="field" for="add-code">{label}</label>
      <div class="beside">
        <input id="add-code" class="mono" autocomplete="off" autocapitalize="characters" spellcheck={false} value={typed} onInput={e => setTyped(e.currentTarget.value)}
          onKeyDown={e => { if (e.key === 'Enter') { e.preventDefault(); add(typed) } }} />
        <button type="button" disabled={readCode(typed).state !== 'fits'} onClick={() => add(typed)}>{w.mend.back.add}</button>
      </div>
      <Scan label={w.mend.back.scan} onCode={add} />
      {slip && <p class="told slip" role="alert">{w.mend.back.slip}</p>}
      {codes.length > 0 && (
        <ul class="plain">
          {codes.map(code => (
            <li key={code} class="sent">
              <b class="mono"><Name>{code}</Name></b>
              <button type="button" onClick={() => onCodes(codes.filter(c => c !== code))}>{w.mend.pictures.drop}<span class="unseen"> {code}</span></button>
            </li>
          ))}
        </ul>
      )}
    </>
  )
}
