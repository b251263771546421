package javax.annotation;

/** What generated classes are marked with; the JDK does not have it any more. */
public @interface Generated {
    String[] value();

    String comments() default "";
}
