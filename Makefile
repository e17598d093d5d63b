# stencilwright: make demo, make check. Everything else is listed by `make help`.
VERSION := 0.1.0
CC ?= gcc
BUILD ?= build
PREFIX ?= /usr/local
LIBDIR ?= $(PREFIX)/lib
DESTDIR ?=

# What apt installs when it is missing: to build, and to test.
DEPS := build-essential pkg-config libpng-dev libjpeg-dev libpotrace-dev libcairo2-dev liblcms2-dev libexpat1-dev
DEPS_CHECK := $(DEPS) clang libcmocka-dev librsvg2-bin poppler-utils qpdf ghostscript libxml2-utils w3c-sgml-lib chromium \
  python3-numpy python3-scipy python3-opencv python3-skimage python3-sklearn python3-shapely openclipart-png openclipart-svg
DEPS_FUZZ := $(DEPS) clang libclang-rt-dev
DEPS_LINT := $(DEPS) clang-tidy cppcheck valgrind libcmocka-dev

PKGS := libpng libjpeg lcms2 cairo expat
WARN := -Wall -Wextra -Wshadow -Wconversion
# -O3: gcc 12 makes vectors of loops over bytes only there; a large job takes 7 % less processor time than at -O2.
OPT ?= -O3 -g
CPPFLAGS += -Iinclude -Isrc -D_POSIX_C_SOURCE=200809L -DSW_VERSION='"$(VERSION)"'
# The same sums on every compiler and processor; nobody asks errno or the traps of floating point, which keep loops over
# numbers from being vectors (6 % of a job's processor time).
FLOATS = -ffp-contract=off -fno-math-errno -fno-trapping-math
ALL_CFLAGS = -std=c11 $(WARN) $(OPT) $(FLOATS) -fvisibility=hidden -MMD -MP $(SAN) \
  $(shell pkg-config --cflags $(PKGS) 2>/dev/null) $(CFLAGS)
LIBS = $(shell pkg-config --libs $(PKGS) 2>/dev/null || echo -lpng -ljpeg -llcms2 -lcairo -lexpat) -lpotrace -lpthread -lm

LIB_SRC := $(filter-out src/cli/%,$(sort $(wildcard src/*/*.c)))
CLI_SRC := $(sort $(wildcard src/cli/*.c))
LIB_OBJ := $(LIB_SRC:%.c=$(BUILD)/obj/%.o)
CLI_OBJ := $(CLI_SRC:%.c=$(BUILD)/obj/%.o)
TEST_SRC := $(sort $(wildcard tests/test_*.c))
TESTS := $(TEST_SRC:tests/%.c=$(BUILD)/tests/%)
# Tests run in a build of their own: sanitizers on, fault hooks in.
CHECK_BUILD := $(BUILD)/check
CHECK_SAN := -fsanitize=address,undefined -fno-sanitize-recover=all -fno-omit-frame-pointer

.PHONY: all deps deps-check demo check unit asan bench fuzz lint install clean help samples rules
all: $(BUILD)/stencilwright $(BUILD)/libstencilwright.a

help:
	@echo 'use:   all demo example samples install clean'
	@echo 'test:  check unit (T=NAME) asan valgrind rules lint fuzz (SECONDS=60)'
	@echo 'bench: bench bench-curves bench-separation'

$(BUILD)/obj/%.o: %.c
	@mkdir -p $(@D)
	@echo "  cc $<"
	@$(CC) $(CPPFLAGS) $(ALL_CFLAGS) -c $< -o $@

# Members carry their folder: a dozen names occur in two or more, and `ar x` would write one over the other.
$(BUILD)/libstencilwright.a: $(LIB_OBJ)
	@rm -rf $@ $(BUILD)/obj/flat && mkdir -p $(BUILD)/obj/flat
	@$(foreach o,$(LIB_OBJ:$(BUILD)/obj/%=%),ln -s ../$(o) $(BUILD)/obj/flat/$(subst /,-,$(o:src/%=%)) &&) :
	@ar rcs $@ $(BUILD)/obj/flat/*.o

$(BUILD)/stencilwright: $(CLI_OBJ) $(BUILD)/libstencilwright.a
	@$(CC) $(SAN) $(LDFLAGS) $(CLI_OBJ) $(BUILD)/libstencilwright.a $(LIBS) -o $@

# A test program is one file, tests/test_NAME.c, and may include tests/support.h.
$(BUILD)/tests/%: tests/%.c $(BUILD)/libstencilwright.a
	@mkdir -p $(@D)
	@$(CC) $(CPPFLAGS) -Itests $(ALL_CFLAGS) $< $(BUILD)/libstencilwright.a -lcmocka $(LIBS) -o $@

# Other programs: tools/NAME.c or tests/**/NAME.c with a main of their own.
$(BUILD)/bin/%: %.c $(BUILD)/libstencilwright.a
	@mkdir -p $(@D)
	@$(CC) $(CPPFLAGS) -Itests $(ALL_CFLAGS) $< $(BUILD)/libstencilwright.a $(LIBS) -o $@

-include $(shell find $(BUILD) -name '*.d' 2>/dev/null)

deps:
	@tests/deps.sh $(DEPS)

deps-check:
	@tests/deps.sh $(DEPS_CHECK)

deps-lint:
	@tests/deps.sh $(DEPS_LINT)
deps-fuzz:
	@tests/deps.sh $(DEPS_FUZZ)
.PHONY: deps-lint deps-fuzz

# Unit tests in the sanitizer build. T=NAME runs tests/test_NAME.c alone; unit-build only builds them all.
T ?= *
IN_CHECK = $(MAKE) --no-print-directory BUILD=$(CHECK_BUILD) OPT='-O1 -g' SAN='$(CHECK_SAN)' CFLAGS='-DSW_FAULTS $(CFLAGS)'
unit:
	@$(IN_CHECK) unit-run
unit-build:
	@$(IN_CHECK) tests-built $(CHECK_BUILD)/stencilwright
.PHONY: unit-build tests-built
tests-built: $(TESTS)

CHOSEN := $(filter $(BUILD)/tests/test_$(subst *,%,$(T)),$(TESTS))
.PHONY: unit-run
unit-run: $(CHOSEN)
	@[ -n '$(CHOSEN)' ] || { echo 'there is no tests/test_$(T).c' >&2; exit 2; }
	@set -e; for t in $(CHOSEN); do echo "== $$t"; $$t; done

# What make check does with sanitizers, alone: unit tests, then commands.
asan: unit unit-build
	@BUILD=$(BUILD) tests/asan.sh

# Unit tests and small jobs under memcheck; MEMCHECK="base wall" runs those tests alone, MEMCHECK=jobs the jobs.
valgrind: deps-lint
	@BUILD=$(BUILD) MAKE='$(MAKE)' tests/valgrind.sh $(MEMCHECK)
.PHONY: valgrind

rules:
	@tests/rules/run.sh

# The main job on a sample. Everything it writes lies in $(BUILD)/demo.
demo: deps
	@$(MAKE) --no-print-directory -j2 all samples
	@mkdir -p $(BUILD)/demo
	$(BUILD)/stencilwright cut $(BUILD)/samples/heron.png --width 2.1m --passes 3 --out $(BUILD)/demo/heron --replace
	@echo
	@echo 'Look at $(BUILD)/demo/heron/preview.png (the wall as sprayed), then at'
	@echo '$(BUILD)/demo/heron/layers.svg (all passes) and $(BUILD)/demo/heron/cut/ (what the cutting shop gets).'

# Everything: rules, both compilers, unit tests under sanitizers, command line, references. Ends with a count.
check: deps-check
	@$(MAKE) --no-print-directory -j2 all samples
	@BUILD=$(BUILD) MAKE='$(MAKE)' tests/run_all.sh

bench: all samples
	@BUILD=$(BUILD) MAKE='$(MAKE)' tests/bench/run.sh

# Quiet labels against plain nearest-colour labels: four photographs, twelve drawings, our samples.
BENCH_PHOTOS := $(addprefix /usr/lib/python3/dist-packages/skimage/data/,astronaut.png coffee.png chelsea.png rocket.jpg)
BENCH_DRAWINGS = $(addprefix /usr/share/openclipart/png/,animals/birds/gabbiano_architetto_fran_01.png \
  animals/birds/rooster_01.png animals/birds/turkey_on_platter_01.png animals/birds/contour_bat.png \
  food/fruit/fruitcollection_leif_lod_07.png food/fruit/lime_slice_ganson.png food/fruit/prune.png \
  food/desserts/cone4_bw_ganson.png plants/flowers/daisy_jonathan_dietrich_01.png \
  plants/flowers/sun_flower_ganson.png transportation/boating/sailing_capsize3.png buildings/grain_elevator_ganson.png)
.PHONY: bench-separation
bench-separation: $(BUILD)/bin/tests/bench/bench_separation samples
	@$< $(BENCH_PHOTOS)
	@$< $(BENCH_DRAWINGS)
	@$< $(SAMPLES)

# libFuzzer on every target, SECONDS each.
SECONDS := 60
fuzz: deps-fuzz
	@BUILD=$(BUILD) MAKE='$(MAKE)' tests/fuzz/run.sh $(SECONDS)

lint: deps-lint
	@tests/lint.sh $(CPPFLAGS) $(shell pkg-config --cflags $(PKGS) 2>/dev/null)

$(BUILD)/stencilwright.1: $(BUILD)/stencilwright
	@$< help --man > $@

$(BUILD)/stencilwright.bash: $(BUILD)/stencilwright
	@$< help --bash > $@

.PHONY: $(BUILD)/stencilwright.pc # PREFIX may have changed
$(BUILD)/stencilwright.pc:
	@mkdir -p $(@D)
	@printf 'prefix=%s\nName: stencilwright\nDescription: paint stencils from a picture, ready to cut\nVersion: %s\n' \
	  '$(PREFIX)' '$(VERSION)' > $@
	@printf 'libdir=%s\nRequires.private: %s\nCflags: -I$${prefix}/include\n' '$(LIBDIR)' '$(PKGS)' >> $@
	@printf 'Libs: -L$${libdir} -lstencilwright\nLibs.private: -lpotrace -lpthread -lm\n' >> $@

# The shared library exports the public header's calls only, under a symbol version.
SO := libstencilwright.so.0
$(BUILD)/$(SO): src/stencilwright.map $(LIB_OBJ)
	@$(MAKE) --no-print-directory BUILD=$(BUILD)/pic CFLAGS='-fPIC $(CFLAGS)' $(BUILD)/pic/libstencilwright.a
	@$(CC) -shared -Wl,-soname,$(SO) -Wl,-z,nodelete -Wl,--version-script=src/stencilwright.map -Wl,--whole-archive \
	  $(BUILD)/pic/libstencilwright.a -Wl,--no-whole-archive -Wl,--no-undefined $(SAN) $(LDFLAGS) $(LIBS) -o $@

install: all $(BUILD)/$(SO) $(BUILD)/stencilwright.1 $(BUILD)/stencilwright.bash $(BUILD)/stencilwright.pc
	install -D -m 755 $(BUILD)/stencilwright $(DESTDIR)$(PREFIX)/bin/stencilwright
	install -D -m 644 $(BUILD)/libstencilwright.a $(DESTDIR)$(LIBDIR)/libstencilwright.a
	install -D -m 755 $(BUILD)/$(SO) $(DESTDIR)$(LIBDIR)/$(SO)
	ln -sf $(SO) $(DESTDIR)$(LIBDIR)/libstencilwright.so
	install -D -m 644 -t $(DESTDIR)$(PREFIX)/include/stencilwright include/stencilwright/*.h
	install -D -m 644 $(BUILD)/stencilwright.pc $(DESTDIR)$(LIBDIR)/pkgconfig/stencilwright.pc
	install -D -m 644 $(BUILD)/stencilwright.1 $(DESTDIR)$(PREFIX)/share/man/man1/stencilwright.1
	install -D -m 644 $(BUILD)/stencilwright.bash $(DESTDIR)$(PREFIX)/share/bash-completion/completions/stencilwright

clean:
	rm -rf $(BUILD)

# The sample pictures, drawn by a generator of our own; none of them is kept in the repository.
SAMPLE_OBJ := $(patsubst %.c,$(BUILD)/obj/%.o,$(sort $(wildcard samples/*.c)))
SAMPLES := $(addprefix $(BUILD)/samples/,heron.png regatta.png sketch.jpg harbour.jpg figurehead.png wallphoto.jpg)
samples: $(SAMPLES)

$(BUILD)/bin/samples/draw: $(SAMPLE_OBJ) $(BUILD)/libstencilwright.a
	@mkdir -p $(@D)
	@$(CC) $(SAN) $(LDFLAGS) $(SAMPLE_OBJ) $(BUILD)/libstencilwright.a $(LIBS) -o $@

$(SAMPLES): $(BUILD)/samples/%: $(BUILD)/bin/samples/draw
	@mkdir -p $(@D)
	@$< $(basename $*) $@

# Nodes of the curves against tolerance and against the tracer alone. P="..." names other pictures or masks.
SKIMAGE_DATA ?= /usr/lib/python3/dist-packages/skimage/data
P ?= $(addprefix $(SKIMAGE_DATA)/,astronaut.png coffee.png chelsea.png rocket.jpg)
.PHONY: bench-curves
bench-curves: $(BUILD)/bin/tests/bench/bench_curves
	@$< 2100 $(P)

# A whole job from the sample picture to the client's wall. Everything it writes lies in $(BUILD)/example.
.PHONY: example
example: all samples
	@mkdir -p $(BUILD)/example
	@cp samples/shed.wall $(BUILD)/samples/wallphoto.jpg $(BUILD)/example/
	$(BUILD)/stencilwright cut $(BUILD)/samples/heron.png --width 2.1m --passes 3 --ground '#d8cfbf' --surface render \
	  --bed 1200x800mm --format svg,pdf --out $(BUILD)/example/heron --replace
	$(BUILD)/stencilwright wall $(BUILD)/example/shed.wall $(BUILD)/example/heron --snap window --into-job \
	  --out $(BUILD)/example/wall.png --grid 50cm --replace
	@echo
	@echo 'Look at $(BUILD)/example/wall.png, open $(BUILD)/example/heron/job.html, send $(BUILD)/example/heron/cut/ to the shop.'
