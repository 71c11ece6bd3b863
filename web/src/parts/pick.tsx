// Picking one or several of a few: every choice is a button as wide as a thumb, pressed or not.

import type { ComponentChildren } from 'preact'

export interface Choice { id: string; label: ComponentChildren; under?: ComponentChildren }

// toggled gives a list with one more, or with one fewer where it is on it already.
export const toggled = (list: string[], id: string): string[] => (list.includes(id) ? list.filter(x => x !== id) : [...list, id])

interface Props { legend: ComponentChildren; choices: Choice[]; chosen: string[]; onPick: (id: string) => void; wide?: boolean; ruled?: boolean; three?: boolean }

export function Pick({ legend, choices, chosen, onPick, wide, ruled, three }: Props) {
  return (
    <fieldset class={'pick' + (wide ? ' wide' : '') + (ruled ? ' ruled' : '') + (three ? ' three' : '')}>
      <legend>{legend}</legend>
      <div>
        {choices.map(c => (
          <button key={c.id} type="button" aria-pressed={chosen.includes(c.id)} onClick={() => onPick(c.id)}>
            <span>{c.label}</span>
            {c.under && <small>{c.under}</small>}
          </button>
        ))}
      </div>
    </fieldset>
  )
}

// Picked is a choice that has been made, with the way to change it.
export function Picked({ label, children, change, onChange }: { label: string; children: ComponentChildren; change: string; onChange: () => void }) {
  return (
    <div class="picked">
      <div><span class="what">{label.replace(/^¿|\?$/g, '')}</span> {children}</div>
      <button type="button" onClick={onChange}>{change}<span class="unseen"> {label}</span></button>
    </div>
  )
}
