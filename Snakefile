# The rules lie in the package, so that an installed `trivet` has them too. What an included file
# asks for first is not asked for by default, hence the one rule here.
from trivet.workflow.handover import RULES


include: RULES


localrules:
    campaign,


rule campaign:
    default_target: True
    input:
        rules.all.input,
