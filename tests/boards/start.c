/* The first instructions of an emulated Cortex-M3: stack, semihosting, main, and out with its exit code. */
#include <stdint.h>
#include <stdlib.h>

extern uint32_t stack_top;
extern void initialise_monitor_handles(void);
extern int main(int count, char **arguments);
void reset(void);
void _init(void);
void _fini(void);

__attribute__((section(".vectors"), used)) static const void *const vectors[] = {&stack_top, (void *)reset};

void _init(void) {}
void _fini(void) {}

void reset(void)
{
    static char *arguments[] = {"check", 0};
    initialise_monitor_handles();
    exit(main(1, arguments));
}
