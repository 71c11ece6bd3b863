// Lot and crate codes, read as the service reads them. The last two characters check all the others (ISO/IEC 7064
// MOD 1271-36): a slip of the finger shows at once, also without signal. The phone says whether they fit and never which
// ones would: a check that corrects itself checks nothing.

const alphabet = '0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ'
const harvest = /^(\d{5})([A-Z0-9]{1,5})([A-Z]{3})([1-9]\d{0,4})(C[1-9]\d{0,4})?$/
const pack = /^(P\d{5})([A-Z]{3})([1-9]\d{0,4})(C[1-9]\d{0,4})?$/

export function checkCharacters(text: string): string {
  let remainder = 0
  for (const c of text + '00') remainder = (remainder * 36 + alphabet.indexOf(c)) % 1271
  const check = (1272 - remainder) % 1271
  return alphabet[Math.floor(check / 36)]! + alphabet[check % 36]!
}

export type CodeReading =
  | { state: 'empty' | 'more' | 'slip' }
  | { state: 'fits'; text: string; lot: string; crate?: number }

// readCode reads what was typed or scanned. A scanned label gives a link whose last part is the code.
export function readCode(typed: string): CodeReading {
  const last = typed.trim().replace(/[?#].*$/, '').split('/').pop() ?? ''
  const compact = last.toUpperCase().replace(/[^0-9A-Z]/g, '')
  if (compact === '') return { state: 'empty' }
  const body = compact.slice(0, -2)
  const parts = harvest.exec(body) ?? pack.exec(body)
  if (!parts) return { state: compact.length < 11 || body.length < 9 ? 'more' : 'slip' }
  if (checkCharacters(body) !== compact.slice(-2)) return { state: compact.length < 11 ? 'more' : 'slip' }
  const named = parts.slice(1) as (string | undefined)[]
  const crate = named.pop()
  const lot = seal(named as string[])
  return crate ? { state: 'fits', text: seal([...(named as string[]), crate]), lot, crate: Number(crate.slice(1)) } : { state: 'fits', text: lot, lot }
}

const seal = (parts: string[]) => parts.join('-') + '-' + checkCharacters(parts.join(''))
