// What somebody may do. A role includes those before it.

const roles = ['reader', 'crew', 'lead', 'owner']

export const atLeast = (role: string | undefined, need: string): boolean => roles.indexOf(role ?? 'crew') >= roles.indexOf(need)
